package plug_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"leavend/control"
	"leavend/control/plug"
	"leavend/control/plug/plugtest"
)

// A plug needs a while to come back to a broker that has just started. Until
// it has had that time the mat is off and its output unknown, and no one is
// told to pull anything.
func TestStartIsNoFault(t *testing.T) {
	const grace = 70 * time.Second
	tests := []struct {
		name  string
		comes time.Duration // after the start; 0 for never
		on    bool          // it is on when it comes
		fault time.Duration // when the fault is told at the latest; 0 for never
	}{
		{"comes after 20 s", 20 * time.Second, false, 0},
		{"never comes", 0, false, grace + 2*time.Second},
		{"comes after 5 s, on, and does not obey", 5 * time.Second, true, 7 * time.Second},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t, "tasmota")
			recipe, _ := plug.ByName("tasmota", "oven", 1)
			dev, err := plug.New(recipe, b.fake, plug.Opts{StartsWithin: grace})
			if err != nil {
				t.Fatal(err)
			}
			b.fake.Tell(dev.Heard)
			b.fake.Offline(true)
			began := b.now
			mat, err := control.New(dev, control.Opts{})
			if err != nil {
				t.Fatal(err)
			}
			mat.Restore(control.Snapshot{}, 0)
			var told time.Duration
			for b.now.Sub(began) < 3*time.Minute {
				mat.Tick(b.now)
				s := mat.State()
				if i := slices.IndexFunc(s.Faults, func(f control.Fault) bool { return f.Kind == control.FaultOutput }); i >= 0 {
					if told == 0 {
						told = b.now.Sub(began)
					}
					if since := s.Faults[i].Since; since.Before(began) {
						t.Fatalf("the fault is said to be since %v, before the start", since)
					}
				}
				if b.fake.IsOn() && !tt.on {
					t.Fatal("it heats")
				}
				b.pass(time.Second)
				if tt.comes > 0 && b.now.Sub(began) == tt.comes {
					b.fake.Offline(false)
					if tt.on {
						b.fake.LoseCommands(1000)
						b.fake.Press()
					}
				}
			}
			if tt.fault == 0 && told != 0 || tt.fault != 0 && (told == 0 || told > tt.fault) {
				t.Errorf("the fault was told after %v, want %v (0 is never)", told, tt.fault)
			}
		})
	}
}

// A fault that is there before anybody has said what time it is gets its time
// from the first call.
func TestFaultHasATime(t *testing.T) {
	now := time.Now()
	fake := plugtest.New("tasmota", "oven", func() time.Time { return now })
	fake.Offline(true)
	mat, err := control.New(plain{fake}, control.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	mat.Restore(control.Snapshot{Latched: []control.FaultKind{control.FaultStuckOn}}, 0)
	mat.Tick(now)
	faults := mat.State().Faults
	if len(faults) == 0 {
		t.Fatal("no fault")
	}
	for _, f := range faults {
		if !f.Since.Equal(now) {
			t.Errorf("%s is since %v, want %v", f.Kind, f.Since, now)
		}
	}
}

// plain is an output without a start of its own.
type plain struct{ fake *plugtest.Fake }

func (p plain) On(context.Context, time.Duration) error { return p.fake.Command("", "") }
func (p plain) Off(context.Context) error               { return p.fake.Command("", "") }
func (p plain) String() string                          { return "plain" }
