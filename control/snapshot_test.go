package control

import (
	"math"
	"testing"
	"time"
)

// What a store says of a mat is believed within its bounds, and no further.
func TestLearntBounds(t *testing.T) {
	good := Learnt{DelayMin: 5, RateCMin: 0.2, LossMin: 0.01}
	if !good.ok() {
		t.Fatal("an ordinary mat is not believed")
	}
	for _, b := range []struct {
		name   string
		set    func(*Learnt, float64)
		lo, hi float64
	}{
		{"delay", func(l *Learnt, v float64) { l.DelayMin = v }, 0.1, 120},
		{"rate", func(l *Learnt, v float64) { l.RateCMin = v }, 0.001, 10},
		{"loss", func(l *Learnt, v float64) { l.LossMin = v }, 1e-5, 1},
		{"share", func(l *Learnt, v float64) { l.Share = v }, -5, 5},
		{"on", func(l *Learnt, v float64) { l.OnMin = v }, 0, 1e9},
		{"contact", func(l *Learnt, v float64) { l.Contact = v }, -100, 100},
		{"jumps", func(l *Learnt, v float64) { l.Jumps = v }, 0, 1000},
		{"was", func(l *Learnt, v float64) { l.Was = v }, -5, 5},
		{"was at", func(l *Learnt, v float64) { l.WasC = v }, -50, 100},
		{"gap", func(l *Learnt, v float64) { l.GapC = v }, 0, 100},
		{"used", func(l *Learnt, v float64) { l.UsedPart = v }, 0, 1},
		{"stored", func(l *Learnt, v float64) { l.Stored = []float64{0.5, v} }, 0, 1},
	} {
		for v, want := range map[float64]bool{
			b.lo: true, b.hi: true, math.Nextafter(b.lo, math.Inf(-1)): false, math.Nextafter(b.hi, math.Inf(1)): false, math.NaN(): false, math.Inf(1): false,
		} {
			l := good
			if b.set(&l, v); l.ok() != want {
				t.Errorf("%s of %g: believed %v, want %v", b.name, v, !want, want)
			}
		}
	}
}

func TestLifeBounds(t *testing.T) {
	const most = 100 * 365 * 24 * time.Hour
	for l, want := range map[Life]bool{
		{}: true, {Switches: 1e9 - 1}: true, {Switches: 1e9}: false, {On: -1}: false, {On: most - 1}: true, {On: most}: false,
	} {
		if l.ok() != want {
			t.Errorf("%+v: believed %v, want %v", l, !want, want)
		}
	}
}

// A slot's times and setpoint are bounded.
func TestScheduleBounds(t *testing.T) {
	o := Opts{}.withDefaults()
	const day = 24 * time.Hour
	for _, tt := range []struct {
		slot Slot
		want bool
	}{
		{Slot{SetpointC: 24}, true},
		{Slot{From: -time.Minute, SetpointC: 24}, false},
		{Slot{From: day - time.Minute, SetpointC: 24}, true},
		{Slot{From: day, SetpointC: 24}, false},
		{Slot{To: -time.Minute, SetpointC: 24}, false},
		{Slot{To: day - time.Minute, SetpointC: 24}, true},
		{Slot{To: day, SetpointC: 24}, false},
		{Slot{SetpointC: 33}, true},
		{Slot{SetpointC: 33.1}, false},
		{Slot{Stage: "risen", SetpointC: 24}, false},
	} {
		if err := (Schedule{tt.slot}).check(o); (err == nil) != tt.want {
			t.Errorf("%+v: %v", tt.slot, err)
		}
	}
}

// A snapshot is saved at once for news and each minute while the mat is on, and
// no oftener.
func TestSavedWhenItMatters(t *testing.T) {
	var saved []Snapshot
	b := newBench(t, Opts{SetpointC: 25, Save: func(s Snapshot) { saved = append(saved, s) }})
	b.run(4*time.Minute, 20)
	if len(saved) != 0 {
		t.Errorf("saved %d times before anything happened", len(saved))
	}
	b.run(2*time.Minute, 20)
	b.wantOn(true, "after the minimum off-time")
	was := len(saved)
	if was == 0 {
		t.Error("not saved when the mat came on")
	}
	b.run(5*time.Minute, 20) // too short for a look
	if n := len(saved) - was; n < 4 || n > 6 {
		t.Errorf("saved %d times in five minutes on, want one a minute", n)
	}
	b.run(2*time.Minute, 27)
	was = len(saved)
	b.run(30*time.Minute, 27)
	if len(saved) != was || saved[was-1].On {
		t.Errorf("off: saved %d times, on %v", len(saved)-was, saved[was-1].On)
	}
	b.run(time.Minute, 36)
	if len(saved) != was+1 || len(saved[was].Latched) != 1 {
		t.Errorf("a latch: saved %d times", len(saved)-was)
	}
}

// What a snapshot holds of the day comes back into the half hours it was of.
func TestDayOfOnTimeSurvivesRestart(t *testing.T) {
	m, err := New(&Dry{}, Opts{})
	if err != nil {
		t.Fatal(err)
	}
	on := make([]int, maxBuckets)
	for i := range on {
		on[i] = 10 * i
	}
	m.Restore(Snapshot{Version: snapshotVersion, OnS: on, PhaseS: 600, RunS: 3600}, 25*time.Minute)
	// The newest half hour had got ten minutes, and 25 more are over: it is the last but one now.
	for back := 1; back < maxBuckets; back++ {
		got := m.g.onTime[(maxBuckets-back)%maxBuckets]
		if want := time.Duration(on[maxBuckets-back]) * time.Second; got != want {
			t.Errorf("%d half hours ago: %s, want %s", back, got, want)
		}
	}
	if m.g.onTime[0] != 0 || m.g.phase != 5*time.Minute || m.g.run != 0 {
		t.Errorf("the present half hour has %s at %s, and %s are owed a rest", m.g.onTime[0], m.g.phase, m.g.run)
	}
	if m, err = New(&Dry{}, Opts{}); err != nil {
		t.Fatal(err)
	}
	m.Restore(Snapshot{Version: snapshotVersion, OnS: []int{100, 7200}, RunS: 3600, On: true, RestS: 300}, time.Minute)
	extra := saveEvery + m.lim.Lease
	if m.g.onTime[0] != m.lim.bucket+extra || m.g.onTime[maxBuckets-1] != 100*time.Second {
		t.Errorf("present half hour %s, the one before %s", m.g.onTime[0], m.g.onTime[maxBuckets-1])
	}
	if want := time.Hour + extra - 12*time.Minute; m.g.run != want || !m.g.resting || m.g.restEnd != 4*time.Minute {
		t.Errorf("%s are owed a rest, want %s; resting %v until %s", m.g.run, want, m.g.resting, m.g.restEnd)
	}
}
