package control

import (
	"slices"
	"testing"
	"time"
)

// TestLingers holds a vessel too warm with the mat off, as a weak mat does whose
// switch is stuck on, and as other things do.
func TestLingers(t *testing.T) {
	tells := func(m *Mat) bool {
		return slices.ContainsFunc(m.State().Faults, func(f Fault) bool { return f.Kind == FaultLingers })
	}
	tests := []struct {
		name  string
		heats bool                        // before
		c     func(hours float64) float64 // the vessel after the mat went off
		roomC float64                     // 0 without a probe
		lower bool                        // the setpoint is lowered meanwhile
		want  bool
	}{
		{"held too warm", true, func(float64) float64 { return 26.8 }, 0, false, true},
		{"creeping up", true, func(h float64) float64 { return min(25.4+0.3*h, 27.2) }, 0, false, true},
		{"the room is as warm", true, func(float64) float64 { return 26.8 }, 26.5, false, false},
		{"the room is cool", true, func(float64) float64 { return 26.8 }, 20, false, true},
		{"a warm dough that cools", true, func(h float64) float64 { return max(23, 30-0.5*h) }, 0, false, false},
		{"as wanted", true, func(float64) float64 { return 25.4 }, 0, false, false},
		{"a summer without need of the mat", false, func(float64) float64 { return 27.5 }, 0, false, false},
		{"less is wanted from now on", true, func(float64) float64 { return 24.8 }, 0, true, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t, Opts{SetpointC: 25})
			b.m.SetMode(b.now, Hold)
			if tt.heats {
				b.run(20*time.Minute, 24.5)
				if !b.out.on {
					t.Fatal("it does not heat")
				}
			}
			off := b.now
			if tt.lower {
				b.run(10*time.Minute, 25.4)
				if err := b.m.SetSetpoint(b.now, 20); err != nil {
					t.Fatal(err)
				}
			}
			told := false
			for range 10 * 60 {
				if tt.roomC != 0 {
					b.m.Temperature(b.now, "room", AtRoom, tt.roomC)
				}
				b.run(time.Minute, tt.c(b.now.Sub(off).Hours()))
				if tells(b.m) {
					told = true
				}
				if b.out.hot() {
					t.Fatal("it heats")
				}
			}
			if told != tt.want {
				t.Errorf("told: %v, want %v; faults %+v", told, tt.want, b.m.State().Faults)
			}
			if told {
				b.run(2*time.Minute, 25.2)
				if tells(b.m) {
					t.Error("it is told though it is over")
				}
			}
		})
	}
}
