package control

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"
)

// bench is a mat on a recording output, with a clock that the test moves.
type bench struct {
	t   *testing.T
	m   *Mat
	out *faulty
	now time.Time
}

// faulty is an output that remembers and can fail, as no library fake can.
type faulty struct {
	on       bool
	until    time.Time // when the lease ends, by the bench's clock
	now      func() time.Time
	failOn   error
	failOff  error
	ons      int
	offs     int
	longest  time.Duration
	checkErr error
}

func (f *faulty) On(_ context.Context, lease time.Duration) error {
	f.ons++
	if f.failOn != nil {
		return f.failOn
	}
	f.longest = max(f.longest, lease)
	f.on, f.until = true, f.now().Add(lease)
	return nil
}

func (f *faulty) Off(context.Context) error {
	f.offs++
	if f.failOff != nil {
		return f.failOff
	}
	f.on = false
	return nil
}

func (f *faulty) Check(time.Time) error { return f.checkErr }
func (f *faulty) String() string        { return "faulty output of the tests" }

// hot reports whether the mat has power, the lease considered.
func (f *faulty) hot() bool { return f.on && f.now().Before(f.until) }

func newBench(t *testing.T, o Opts) *bench {
	t.Helper()
	o.Plain = true // these tests are about the law and the guard
	if o.MinOff == 0 {
		o.MinOff = 5 * time.Minute
	}
	b := &bench{t: t, now: time.Now()}
	b.out = &faulty{now: func() time.Time { return b.now }}
	m, err := New(b.out, o)
	if err != nil {
		t.Fatal(err)
	}
	b.m = m
	if err := m.SetMode(b.now, Hold); err != nil {
		t.Fatal(err)
	}
	return b
}

// without takes a rule out, for a test of another.
func (b *bench) without(n int) {
	b.m.lim.rules = slices.DeleteFunc(b.m.lim.rules, func(r rule) bool { return r.n == n })
}

// run lets time pass with a reading every ten seconds and a tick every two.
func (b *bench) run(d time.Duration, c float64) {
	for end := b.now.Add(d); b.now.Before(end); {
		b.m.Temperature(b.now, "crumb", AtVessel, c)
		b.idle(10 * time.Second)
	}
}

// idle lets time pass with ticks alone.
func (b *bench) idle(d time.Duration) {
	for end := b.now.Add(d); b.now.Before(end); b.now = b.now.Add(2 * time.Second) {
		b.m.Tick(b.now)
	}
}

// warm brings the mat on at a cold vessel.
func (b *bench) warm() {
	b.t.Helper()
	b.run(6*time.Minute, 20)
	b.wantOn(true, "after the first pause at 20 °C")
}

func (b *bench) wantOn(want bool, when string) {
	b.t.Helper()
	if got := b.out.hot(); got != want {
		s := b.m.State()
		b.t.Fatalf("%s: mat on = %v, want %v (reason %s, faults %v)", when, got, want, s.Reason, s.Faults)
	}
}

func (b *bench) wantFault(k FaultKind) {
	b.t.Helper()
	for _, f := range b.m.State().Faults {
		if f.Kind == k {
			return
		}
	}
	b.t.Fatalf("no fault %s among %v", k, b.m.State().Faults)
}

func TestHysteresis(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 25, HysteresisC: 0.5, Plain: true})
	b.wantOn(false, "at the start")
	b.run(4*time.Minute, 20)
	b.wantOn(false, "before the minimum off-time is served")
	b.run(2*time.Minute, 20)
	b.wantOn(true, "cold")
	b.run(time.Minute, 25.2)
	b.wantOn(true, "within the band, rising")
	b.run(time.Minute, 25.6)
	b.wantOn(false, "above the band")
	b.run(20*time.Minute, 24.8)
	b.wantOn(false, "within the band, falling")
	b.run(time.Minute, 24.4)
	b.wantOn(true, "below the band")
}

func TestCutoffLatches(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 26, VesselCutoffC: 30})
	b.warm()
	b.run(2*time.Minute, 24.5)
	b.wantOn(true, "still below")
	b.m.Temperature(b.now, "crumb", AtVessel, 30)
	b.idle(10 * time.Second)
	b.m.Temperature(b.now, "crumb", AtVessel, 24.5)
	if len(b.m.State().Faults) != 0 {
		t.Fatalf("one impossible jump latched %v", b.m.State().Faults)
	}
	b.run(11*time.Minute, 24.5)
	b.wantOn(true, "after the impossible jump and a pause")
	b.idle(70 * time.Second)
	b.m.Temperature(b.now, "crumb", AtVessel, 38)
	b.wantOn(false, "one hot reading after a gap, at once")
	if len(b.m.State().Faults) != 1 || b.m.State().Faults[0].Kind != FaultSuspect {
		t.Fatalf("one hot reading after a gap: %v", b.m.State().Faults)
	}
	b.idle(10 * time.Second)
	b.m.Temperature(b.now, "crumb", AtVessel, 38)
	b.wantFault(FaultVesselCutoff)
	b.run(time.Hour, 20)
	b.wantOn(false, "an hour later, cold again")
	if err := b.m.Acknowledge(b.now); err != nil {
		t.Fatal(err)
	}
	b.run(time.Minute, 20)
	b.wantOn(true, "after the acknowledgement and good readings")
}

func TestStaleReadingSwitchesOff(t *testing.T) {
	b := newBench(t, Opts{Stale: time.Minute})
	b.warm()
	b.idle(time.Minute)
	b.wantOn(false, "a minute without a reading")
	b.wantFault(FaultStale)
}

func TestStalledLoopEndsTheLease(t *testing.T) {
	b := newBench(t, Opts{})
	b.warm()
	b.now = b.now.Add(time.Minute)
	b.wantOn(false, "a minute without a call")
	b.m.Tick(b.now)
	if s := b.m.State(); s.On || s.Output != OutputOff {
		t.Fatalf("after the stall: %+v", s)
	}
}

func TestFailedWriteIsNeverOff(t *testing.T) {
	b := newBench(t, Opts{})
	b.warm()
	b.out.failOff = errors.New("no acknowledge")
	b.run(time.Minute, 40) // over the cutoff
	if got := b.m.State().Output; got != OutputUnknown {
		t.Fatalf("output = %s after a failed off, want unknown", got)
	}
	b.wantFault(FaultOutput)
	tries := b.out.offs
	b.idle(10 * time.Second)
	if b.out.offs < tries+4 {
		t.Fatalf("off was tried %d times in 10 s", b.out.offs-tries)
	}
	b.out.failOff = nil
	b.idle(2 * time.Second)
	if got := b.m.State().Output; got != OutputOff {
		t.Fatalf("output = %s after an off that worked, want off", got)
	}
}

func TestLatchedFaultSurvivesRestart(t *testing.T) {
	b := newBench(t, Opts{})
	b.warm()
	b.run(2*time.Minute, 36)
	saved := b.m.Snapshot()
	c := newBench(t, Opts{})
	c.m.Restore(saved, 0)
	c.run(time.Hour, 20)
	c.wantOn(false, "after the restart")
	c.wantFault(FaultVesselCutoff)
}

func TestCloseAndPanicSwitchOff(t *testing.T) {
	b := newBench(t, Opts{})
	b.warm()
	if err := b.m.Close(); err != nil {
		t.Fatal(err)
	}
	b.wantOn(false, "after Close")
	b.run(time.Hour, 20)
	b.wantOn(false, "an hour after Close")

	c := newBench(t, Opts{})
	c.warm()
	func() {
		defer func() { _ = recover() }()
		defer c.m.OffOnPanic()
		panic("a goroutine of the daemon fails")
	}()
	c.wantOn(false, "after a panic elsewhere")
}

func TestOptsOutOfRange(t *testing.T) {
	for _, o := range []Opts{
		{SetpointC: 34}, {SetpointC: 62}, {VesselCutoffC: 60}, {HysteresisC: 9},
		{Probes: []Probe{{"a", "shelf"}}}, {Probes: []Probe{{"a", AtMat}, {"a", AtMat}}},
		{Schedule: Schedule{{SetpointC: 40}}}, {Schedule: Schedule{{Stage: "nap", SetpointC: 20}}},
	} {
		if _, err := New(&Dry{}, o); err == nil {
			t.Errorf("New(%+v) gave no error", o)
		}
	}
}

func TestSchedule(t *testing.T) {
	s := Schedule{
		{Stage: AtTarget, SetpointC: 0},
		{Days: []time.Weekday{time.Saturday}, From: 22 * time.Hour, To: 6 * time.Hour, SetpointC: 20},
		{Stage: Rising, From: 8 * time.Hour, To: 18 * time.Hour, SetpointC: 24},
	}
	// The first of March 2026 is a Sunday.
	at := func(day, h int) time.Time { return time.Date(2026, 3, day, h, 30, 0, 0, time.Local) }
	tests := []struct {
		name      string
		day, hour int
		stage     Stage
		want      float64
		ok        bool
	}{
		{"Saturday late in the evening", 7, 23, Rising, 20, true},
		{"the night that began on Saturday", 1, 3, Falling, 20, true},
		{"the night that began on Sunday", 2, 3, Falling, 0, false},
		{"rising by day", 2, 12, Rising, 24, true},
		{"rising in the evening", 2, 18, Rising, 0, false},
		{"target reached", 7, 23, AtTarget, 0, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := s.At(at(tt.day, tt.hour), tt.stage)
			if got != tt.want || ok != tt.ok {
				t.Errorf("got %g, %v, want %g, %v", got, ok, tt.want, tt.ok)
			}
		})
	}
}

// The reason that is shown is the one that decides: a pause counts only while
// it holds back heat that is wished for.
func TestReasonIsTheOneThatDecides(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 25, HysteresisC: 0.3})
	want := func(r Reason, when string) {
		t.Helper()
		if got := b.m.State().Reason; got != r {
			t.Errorf("%s: the reason is %s, want %s", when, got, r)
		}
	}
	b.run(time.Minute, 26)
	want(ReasonAbove, "warm at the start, in the first pause")
	b.run(time.Minute, 24.9)
	want(ReasonWithin, "within the band, in the first pause")
	b.run(time.Minute, 24)
	want(ReasonMinOff, "cold, in the first pause")
	b.run(6*time.Minute, 24)
	want(ReasonBelow, "cold")
	b.run(time.Minute, 25.4)
	want(ReasonAbove, "warm, in the pause after heating")
	b.run(time.Minute, 24.6)
	want(ReasonMinOff, "cold again, in that pause")
	b.m.Failed(b.now, "crumb", errors.New("no answer"))
	b.idle(3 * time.Minute)
	want(ReasonStale, "when the probe is silent, whatever is wished")
}
