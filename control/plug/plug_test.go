package plug_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"leavend/control/plug"
	"leavend/control/plug/plugtest"
)

// bench is a plug output on a fake plug with a clock the test moves.
type bench struct {
	now  time.Time
	fake *plugtest.Fake
	dev  *plug.Dev
}

func newBench(t *testing.T, kind string) *bench {
	t.Helper()
	b := &bench{now: time.Now()}
	b.fake = plugtest.New(kind, "oven", func() time.Time { return b.now })
	recipe, err := plug.ByName(kind, "oven", 1)
	if err != nil {
		t.Fatal(err)
	}
	if b.dev, err = plug.New(recipe, b.fake, plug.Opts{}); err != nil {
		t.Fatal(err)
	}
	b.fake.Tell(b.dev.Heard)
	return b
}

func (b *bench) pass(d time.Duration) { b.now = b.now.Add(d) }

func kinds() []string { return []string{"tasmota", "zigbee2mqtt", "shelly", "esphome"} }

func TestEveryRecipe(t *testing.T) {
	ctx := context.Background()
	for _, kind := range kinds() {
		t.Run(kind, func(t *testing.T) {
			b := newBench(t, kind)
			want := func(on bool, when string) {
				t.Helper()
				if b.fake.IsOn() != on {
					t.Fatalf("%s: plug on = %v, want %v", when, !on, on)
				}
				if err := b.dev.Check(b.now); err != nil {
					t.Fatalf("%s: %v", when, err)
				}
			}
			if err := b.dev.On(ctx, time.Minute); err != nil {
				t.Fatal(err)
			}
			want(true, "on")
			b.pass(50 * time.Second)
			if err := b.dev.On(ctx, time.Minute); err != nil {
				t.Fatal(err)
			}
			b.pass(50 * time.Second)
			want(true, "renewed, past the first lease")
			if err := b.dev.Off(ctx); err != nil {
				t.Fatal(err)
			}
			want(false, "off")
			if err := b.dev.On(ctx, 5*time.Second); err != nil {
				t.Fatal(err)
			}
			b.pass(5 * time.Second)
			if b.fake.IsOn() {
				t.Fatal("a short lease did not end")
			}
		})
	}
}

// Leases end where readings grow stale, at no whole second. No plug may keep
// heating beyond one.
func TestNoPlugOutlivesALease(t *testing.T) {
	for _, kind := range kinds() {
		for lease := time.Second; lease < 15*time.Second; lease += 137 * time.Millisecond {
			b := newBench(t, kind)
			if err := b.dev.On(context.Background(), lease); err != nil {
				t.Fatal(err)
			}
			if b.pass(lease); b.fake.IsOn() {
				t.Errorf("%s heats on after a lease of %s", kind, lease)
			}
		}
	}
}

// PulseTime's ranges are from the Tasmota command reference: 1 to 111 in
// tenths of a second, 112 to 64900 in seconds with an offset of 100.
func TestPulseTime(t *testing.T) {
	r, err := plug.ByName("tasmota", "oven", 2)
	if err != nil {
		t.Fatal(err)
	}
	for lease, want := range map[time.Duration]string{
		time.Second:      "PulseTime2 10; Power2 ON",
		11 * time.Second: "PulseTime2 110; Power2 ON",
		12 * time.Second: "PulseTime2 112; Power2 ON",
		time.Minute:      "PulseTime2 160; Power2 ON",
		48 * time.Hour:   "PulseTime2 64900; Power2 ON",
	} {
		if got := r.On(lease)[0].Payload; got != want {
			t.Errorf("%s: got %q, want %q", lease, got, want)
		}
	}
}

func TestNothingIsSentWithoutConnection(t *testing.T) {
	b := newBench(t, "tasmota")
	b.fake.Offline(true)
	if err := b.dev.On(context.Background(), time.Minute); !errors.Is(err, plug.ErrDisconnected) {
		t.Fatalf("got %v, want ErrDisconnected", err)
	}
	b.fake.Offline(false)
	b.pass(time.Hour)
	if b.fake.Commands() != 0 || b.fake.IsOn() {
		t.Fatal("an on was kept for later")
	}
}

func TestMissingEcho(t *testing.T) {
	ctx := context.Background()
	tests := []struct {
		name string
		do   func(*bench)
		want string // in the error after the deadline
	}{
		{"command lost", func(b *bench) { b.fake.LoseCommands(1); _ = b.dev.On(ctx, time.Minute) }, "no answer"},
		{"plug gone", func(b *bench) { b.fake.Gone(true); _ = b.dev.Off(ctx) }, "no answer"},
		{"repeating is no sign of life", func(b *bench) {
			b.fake.Gone(true)
			for range 5 {
				_ = b.dev.Off(ctx)
				_ = b.dev.Check(b.now)
				b.pass(3 * time.Second)
			}
		}, "no answer"},
		{"button pressed while off", func(b *bench) { _ = b.dev.Off(ctx); b.fake.Press() }, "says on"},
		{"button pressed while on", func(b *bench) { _ = b.dev.On(ctx, time.Minute); b.fake.Press() }, "says off"},
		{"pressed, and somebody else says that it is off", func(b *bench) {
			_ = b.dev.Off(ctx)
			b.fake.Press()
			b.dev.Heard("stat/oven/POWER", []byte("OFF"), b.now)
		}, "was told off"},
		{"rebooted into its last state", func(b *bench) {
			_ = b.dev.On(ctx, time.Minute)
			b.fake.Gone(true)
			_ = b.dev.Off(ctx)
			b.fake.Gone(false)
			b.fake.Reboot(true)
		}, "says on"},
		{"last will", func(b *bench) { b.dev.Heard("tele/oven/LWT", []byte("Offline"), b.now) }, "not connected"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t, "tasmota")
			tt.do(b)
			_ = b.dev.Check(b.now)
			b.pass(11 * time.Second)
			err := b.dev.Check(b.now)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Fatalf("got %v, want an error with %q", err, tt.want)
			}
			b.fake.Gone(false)
			if err := b.dev.Off(ctx); err != nil {
				t.Fatal(err)
			}
			if err := b.dev.Check(b.now); err != nil {
				t.Fatalf("after an off that was echoed: %v", err)
			}
		})
	}
}

func TestHangingClientHoldsNobody(t *testing.T) {
	b := newBench(t, "tasmota")
	release := b.fake.Hang()
	for range 6 {
		ctx, cancel := context.WithTimeout(context.Background(), time.Millisecond)
		if err := b.dev.Off(ctx); err == nil {
			t.Fatal("an off that hangs gave no error")
		}
		cancel()
	}
	if err := b.dev.On(context.Background(), time.Minute); err == nil {
		t.Fatal("an on was accepted behind a hanging off")
	}
	release()
}

func TestRefusedRecipes(t *testing.T) {
	for _, c := range []plug.Custom{
		{CommandTopic: "a", On: "1", Off: "0", StateTopic: "b", StateOn: "1", StateOff: "0"},
		{CommandTopic: "a/#", On: "{seconds}", Off: "0", StateTopic: "b", StateOn: "1", StateOff: "0"},
		{CommandTopic: "a", On: "{seconds}", Off: "0", StateTopic: "", StateOn: "1", StateOff: "0"},
		{CommandTopic: "a", On: "{seconds}", Off: "0", StateTopic: "b", StateOn: "1", StateOff: "1"},
	} {
		if _, err := c.Recipe(); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
	if _, err := plug.ByName("tasmota", "a/+/b", 1); err == nil {
		t.Error("a wildcard was accepted as a device")
	}
	if _, err := plug.ByName("abacus", "a", 1); err == nil {
		t.Error("an unknown recipe was accepted")
	}
}

func TestCustom(t *testing.T) {
	r, err := plug.Custom{
		TimerTopic: "heat/timer", Timer: "{seconds}", CommandTopic: "heat/set", On: "1", Off: "0",
		StateTopic: "heat/is", StateField: "power", StateOn: "true", StateOff: "false",
	}.Recipe()
	if err != nil {
		t.Fatal(err)
	}
	m := r.On(90 * time.Second)
	if len(m) != 2 || m[0] != (plug.Message{Topic: "heat/timer", Payload: "90"}) || m[1].Payload != "1" {
		t.Errorf("on sends %v", m)
	}
	for payload, want := range map[string][2]bool{
		`{"power":true}`: {true, true}, `{"power":false}`: {false, true}, `{"power":"maybe"}`: {false, false}, `garbage`: {false, false},
	} {
		if on, known := r.Parse("heat/is", []byte(payload)); on != want[0] || known != want[1] {
			t.Errorf("%s: got %v, %v", payload, on, known)
		}
	}
}

// FuzzParse feeds every recipe whatever a network may bring.
func FuzzParse(f *testing.F) {
	f.Add("stat/oven/RESULT", []byte(`{"POWER":"ON"}`))
	f.Add("leavend-mat/rpc", []byte(`{"src":"oven","result":{"id":0,"output":true}}`))
	f.Fuzz(func(t *testing.T, topic string, payload []byte) {
		for _, kind := range kinds() {
			r, err := plug.ByName(kind, "oven", 1)
			if err != nil {
				t.Fatal(err)
			}
			if on, known := r.Parse(topic, payload); on && !known {
				t.Errorf("%s: on, but not known, from %q", kind, payload)
			}
		}
	})
}
