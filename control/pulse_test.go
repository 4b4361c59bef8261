package control_test

import (
	"testing"
	"time"

	"leavend/control"
)

// A pulse that the mode, or a silent probe, cut short owes no pause: the heat
// is back as soon as the guard lets it.
func TestPulseCutShortOwesNoPause(t *testing.T) {
	for name, cut := range map[string]func(b *bench){
		"mode off and on": func(b *bench) {
			_ = b.m.SetMode(b.at, control.Off)
			b.step()
			_ = b.m.SetMode(b.at, control.Hold)
		},
		"a silent probe": func(b *bench) {
			b.silent = true
			b.run(30 * time.Second)
			b.silent = false
		},
	} {
		p, _ := held(1, "calm")
		p.place(16)
		p.room.mean = 16
		b := newBench(p, control.Opts{SetpointC: 26, MinOff: 30 * time.Second, OnSwitchesPerHour: 30, Stale: 20 * time.Second})
		b.run(2 * time.Minute)
		if !b.out.on {
			t.Fatalf("%s: does not heat at 10 °C below its setpoint", name)
		}
		cut(b)
		if b.out.on {
			t.Fatalf("%s: still heats", name)
		}
		b.run(2 * time.Minute) // 30 switches an hour
		if s := b.m.State(); !s.On {
			t.Errorf("%s: off for %q, 10 °C below its setpoint", name, s.Reason)
		}
	}
}
