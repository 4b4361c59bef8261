package sim

import (
	"math"
	"testing"
	"time"
)

// quiet is a ranger without spikes, glints and failures.
var quiet = RangerOpts{SpikeShare: -1, GlintShare: -1, MissShare: -1}

// TestRangerNoiseIsWhatItsOptionsSay measures spread and correlation of many
// readings of a still surface.
func TestRangerNoiseIsWhatItsOptionsSay(t *testing.T) {
	o := quiet
	o.WhiteMM, o.Wander, o.StepMM = 0.8, []Wander{{MM: 1.2, For: time.Minute}}, -1
	r := newRanger(o, 3)
	const n = 200000
	v := make([]float64, n)
	for i := range v {
		v[i], _ = r.measure(view{distanceMM: 150}, 15*time.Second)
	}
	mean, ss, lag := 0.0, 0.0, 0.0
	for _, x := range v {
		mean += x / n
	}
	for i := range v {
		ss += (v[i] - mean) * (v[i] - mean) / n
		if i > 0 {
			lag += (v[i] - mean) * (v[i-1] - mean) / n
		}
	}
	if math.Abs(mean-150) > 0.05 {
		t.Errorf("mean %.3f, want 150", mean)
	}
	if want := 0.8*0.8 + 1.2*1.2; math.Abs(ss-want) > 0.04*want {
		t.Errorf("variance %.3f, want %.3f", ss, want)
	}
	// An AR(1) process remembers exp(−15/60) of itself from one to the next.
	if want := 1.2 * 1.2 * math.Exp(-0.25); math.Abs(lag-want) > 0.05*want {
		t.Errorf("covariance of neighbours %.3f, want %.3f", lag, want)
	}
}

func TestRangerSharesOfTrouble(t *testing.T) {
	r := newRanger(RangerOpts{SpikeShare: 0.02, GlintShare: 0.03, MissShare: 0.05, WhiteMM: 0.5, Wander: []Wander{}}, 5)
	const n = 100000
	missing, glints, far := 0, 0, 0
	for range n {
		mm, status := r.measure(view{distanceMM: 150}, 15*time.Second)
		switch {
		case math.IsNaN(mm):
			if missing++; status == StatusValid {
				t.Fatal("no distance, but a valid status")
			}
		case mm != math.Round(mm):
			t.Fatalf("%.3f mm is between two steps", mm)
		case mm >= 22 && mm <= 27:
			glints++
		case math.Abs(mm-150) > 5:
			far++
		}
	}
	for _, tt := range []struct {
		name string
		n    int
		want float64
	}{{"missing", missing, 0.05}, {"glints", glints, 0.03}, {"spikes", far, 0.02}} {
		if got := float64(tt.n) / n; math.Abs(got-tt.want) > 0.004 {
			t.Errorf("share of %s is %.4f, want %.4f", tt.name, got, tt.want)
		}
	}
}

func TestRangerAtItsLimits(t *testing.T) {
	r := newRanger(quiet, 1)
	bounds := 0
	for range 1000 {
		mm, status := r.measure(view{distanceMM: 25}, time.Second)
		if status == StatusBounds {
			bounds++
		} else if mm < 38 || mm > 44 {
			t.Fatalf("a surface at 25 mm reads %.0f with status %s", mm, status)
		}
	}
	if bounds < 600 || bounds > 800 {
		t.Errorf("%d of 1000 readings at 25 mm fail, want about 700", bounds)
	}
	if mm, status := r.measure(view{distanceMM: 4000}, time.Second); !math.IsNaN(mm) || status != StatusSignal {
		t.Errorf("a surface at 4 m reads %.0f, %s", mm, status)
	}
}

// TestProbeCountsInSixteenths checks steps, error and faults of the probe.
func TestProbeCountsInSixteenths(t *testing.T) {
	p := newProbe(0.03, 0.3, 1, "vessel")
	for i := range 1000 {
		c := 15 + float64(i)/50
		got := p.measure(c)
		if got*16 != math.Round(got*16) {
			t.Fatalf("%.5f °C is between two steps", got)
		}
		if math.Abs(got-c-0.3) > 0.2 {
			t.Fatalf("%.3f °C at %.3f with an error of 0.3", got, c)
		}
	}
	last := p.measure(25)
	if p.stuck = true; p.measure(30) != last {
		t.Error("the stuck probe moves")
	}
	if p.powerOn = true; p.measure(30) != 85 {
		t.Error("the probe that lost its supply does not show 85")
	}
	if p.gone = true; !math.IsNaN(p.measure(30)) {
		t.Error("the unplugged probe answers")
	}
}

// TestRoomKeepsItsCourse checks day, night and door against what they are
// defined to be.
func TestRoomKeepsItsCourse(t *testing.T) {
	r := NewRoom(RoomOpts{MeanC: 20, SwingC: 2, StartHour: 16}, 1)
	if math.Abs(r.C()-22) > 1e-9 {
		t.Errorf("%.3f °C at 16 o'clock, want 22", r.C())
	}
	for range 12 * 60 {
		r.Step(time.Minute)
	}
	if math.Abs(r.C()-18) > 1e-6 {
		t.Errorf("%.3f °C at 4 o'clock, want 18", r.C())
	}
	r = NewRoom(RoomOpts{MeanC: 20, NightC: 4, StartHour: 23}, 1)
	for range 3 * 60 {
		r.Step(time.Minute)
	}
	if want := 20 - 4*(1-math.Exp(-1)); math.Abs(r.C()-want) > 0.02 {
		t.Errorf("%.3f °C three hours into the night, want %.3f", r.C(), want)
	}
	r = NewRoom(RoomOpts{MeanC: 20}, 1)
	r.OpenDoor(6)
	r.Step(10 * time.Minute)
	if want := 20 - 6*math.Exp(-1); math.Abs(r.C()-want) > 1e-9 {
		t.Errorf("%.3f °C ten minutes after the door, want %.3f", r.C(), want)
	}
}
