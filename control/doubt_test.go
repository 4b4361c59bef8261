package control

import (
	"math"
	"testing"
	"time"
)

// doubting is a guard at noon of its first day, with a vessel at c and the
// setpoint at 25 °C.
func doubting(c float64, d doubt) (*limits, *guardState) {
	l := newLimits(Opts{}.withDefaults())
	s := &guardState{started: true, now: 12 * time.Hour, mode: Hold, setpointC: 25, doubt: d}
	s.probes[0] = probe{place: AtVessel, relied: true, has: true, at: s.now, tempC: c, good: l.GoodReadings}
	return &l, s
}

// TestDoubt walks the edges of rule 6.
func TestDoubt(t *testing.T) {
	const now, sec = 12 * time.Hour, time.Second
	l := newLimits(Opts{}.withDefaults())
	for _, tt := range []struct {
		name   string
		c      float64
		before doubt
		said   evidence
		want   doubt
	}{
		{"heat goes on below GainTime", 20, doubt{on: l.GainTime - sec}, 0, doubt{on: l.GainTime - sec}},
		{"a look at GainTime", 20, doubt{on: l.GainTime}, 0, doubt{on: l.GainTime, phase: looks, until: now + l.Look}},
		{"a trial after a look", 20, doubt{on: l.Trial, tries: 1}, 0, doubt{on: l.Trial, tries: 1, phase: looks, until: now + l.Look}},
		{"not before the trial is over", 20, doubt{on: l.Trial - sec, tries: 1}, 0, doubt{on: l.Trial - sec, tries: 1}},
		{"a trial after a rest", 20, doubt{on: l.Trial, fails: 1}, 0, doubt{on: l.Trial, fails: 1, phase: looks, until: now + l.Look}},
		{"a trial while wary", 20, doubt{on: l.Trial, wary: now + sec}, 0, doubt{on: l.Trial, wary: now + sec, phase: looks, until: now + l.Look}},
		{"no trial when that is over", 20, doubt{on: l.Trial, wary: now}, 0, doubt{on: l.Trial, wary: now}},
		{"a look as soon as the heat is due to show", 20, doubt{on: sec}, due, doubt{on: sec, phase: looks, until: now + l.Look}},
		{"sooner after a leap", 20, doubt{on: sec}, due | moved, doubt{on: sec, tries: 1, phase: looks, until: now + l.Look}},
		{"not where it has shown", 20, doubt{on: sec}, due | answers, doubt{}},
		{"a leap is half a doubt", 20, doubt{on: l.Trial}, moved, doubt{on: l.Trial, tries: 1, phase: looks, until: now + l.Look}},
		{"deaf after half a trial", 20, doubt{on: l.Trial / 2}, deaf, doubt{on: l.Trial / 2, phase: looks, until: now + l.Look}},
		{"deaf before it", 20, doubt{on: l.Trial/2 - sec}, deaf, doubt{on: l.Trial/2 - sec}},
		{"deaf without heat, after a look", 20, doubt{tries: 1, until: now - l.Look}, deaf, doubt{fails: 1, phase: rests, until: now + l.DoubtRest}},
		{"the same a second earlier", 20, doubt{tries: 1, until: now - l.Look + sec}, deaf, doubt{tries: 1, until: now - l.Look + sec}},
		{"the same of a vessel that is warm enough", 25, doubt{tries: 1, until: now - l.Look}, deaf, doubt{tries: 1, until: now - l.Look}},
		{"a first look ends in a trial", 20, doubt{on: l.GainTime, phase: looks, until: now}, 0, doubt{phase: heats, until: now, tries: 1}},
		{"a look goes on", 20, doubt{on: l.GainTime, phase: looks, until: now + sec}, 0, doubt{on: l.GainTime, phase: looks, until: now + sec}},
		{"a look in which an answer was likelier", 20, doubt{tries: 1, phase: looks, until: now}, likelier, doubt{}},
		{"a look after a leap that tells nothing is tried once more", 20, doubt{tries: 1, phase: looks, until: now}, moved, doubt{tries: 2, until: now}},
		{"after a rest only a sure answer counts", 20, doubt{fails: 1, phase: looks, until: now}, likelier, doubt{fails: 2, phase: rests, until: now + 2*l.DoubtRest}},
		{"and no leap is tried again", 20, doubt{fails: 1, tries: 1, phase: looks, until: now}, moved, doubt{fails: 2, phase: rests, until: now + 2*l.DoubtRest}},
		{"nor while wary", 20, doubt{wary: now + sec, past: 1, phase: looks, until: now}, likelier, doubt{fails: 2, phase: rests, until: now + 2*l.DoubtRest}},
		{"but not twice", 20, doubt{tries: 2, phase: looks, until: now}, moved, doubt{fails: 1, phase: rests, until: now + l.DoubtRest}},
		{"nor where it tells that nothing answers", 20, doubt{tries: 1, phase: looks, until: now}, moved | deaf, doubt{fails: 1, phase: rests, until: now + l.DoubtRest}},
		{"a leap in the second trial", 20, doubt{on: l.Trial, tries: 2}, moved, doubt{on: l.Trial, tries: 2, phase: looks, until: now + l.Look}},
		{"not before its end", 20, doubt{tries: 1, phase: looks, until: now + sec}, likelier, doubt{tries: 1, phase: looks, until: now + sec}},
		{"a second look ends in a rest", 20, doubt{tries: 1, phase: looks, until: now}, 0, doubt{fails: 1, phase: rests, until: now + l.DoubtRest}},
		{"not of a vessel that is warm enough", 25, doubt{tries: 1, phase: looks, until: now}, 0, doubt{tries: 1, until: now}},
		{"a rest doubles", 20, doubt{fails: 1, phase: looks, until: now}, 0, doubt{fails: 2, phase: rests, until: now + 2*l.DoubtRest}},
		{"four times at most", 20, doubt{fails: 4, phase: looks, until: now}, 0, doubt{fails: 4, phase: rests, until: now + 8*l.DoubtRest}},
		{"what was before counts", 20, doubt{wary: now + sec, past: 2, phase: looks, until: now}, 0, doubt{fails: 3, phase: rests, until: now + 4*l.DoubtRest}},
		{"a rest ends in a trial", 20, doubt{fails: 2, on: sec, phase: rests, until: now}, 0, doubt{fails: 2, until: now}},
		{"a rest goes on, whatever is said", 20, doubt{fails: 2, phase: rests, until: now + sec}, answers, doubt{fails: 2, phase: rests, until: now + sec}},
		{"an answer", 20, doubt{on: l.GainTime - sec}, answers, doubt{}},
		{"an answer to a look", 20, doubt{on: sec, tries: 1, phase: looks, until: now + sec}, answers, doubt{}},
		{"an answer after a rest is believed for a look", 20, doubt{fails: 2, phase: looks, until: now + sec}, answers, doubt{wary: now + waryRests*l.DoubtRest, past: 2}},
		{"heat is no answer while wary", 20, doubt{on: sec, wary: now + sec, past: 1}, answers, doubt{on: sec, wary: now + sec, past: 1}},
		{"but a look is", 20, doubt{on: sec, wary: now + sec, past: 1, phase: looks, until: now}, answers, doubt{wary: now + sec, past: 1}},
		{"until it is over", 20, doubt{on: sec, wary: now, past: 1}, answers, doubt{}},
		{"spent", 25, doubt{on: sec}, spent, doubt{on: sec, spent: true, phase: rests, until: now + l.MinOff}},
		{"spent in a longer rest", 25, doubt{fails: 1, phase: rests, until: now + time.Hour}, spent, doubt{fails: 1, spent: true, phase: rests, until: now + time.Hour}},
		{"an answer alone does not make it agree", 25, doubt{spent: true}, answers, doubt{spent: true}},
		{"an answer that agrees does", 25, doubt{spent: true}, answers | agrees, doubt{}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l, s := doubting(tt.c, tt.before)
			watchDoubt(l, s, event{kind: evWish, wish: true, said: tt.said})
			if s.doubt != tt.want {
				t.Errorf("got %+v, want %+v", s.doubt, tt.want)
			}
		})
	}
}

// A restart finds the guard where it was between belief and doubt.
func TestDoubtSurvivesRestart(t *testing.T) {
	const now = 12 * time.Hour
	for name, d := range map[string]doubt{
		"heats":  {on: 7 * time.Minute, tries: 1},
		"looks":  {on: 7 * time.Minute, tries: 1, phase: looks, until: now + 11*time.Minute},
		"rests":  {fails: 3, phase: rests, until: now + 3*time.Hour},
		"wary":   {on: time.Minute, wary: now + 2*time.Hour, past: 2},
		"spent":  {spent: true, phase: rests, until: now + 5*time.Minute},
		"the 5.": {fails: 4, phase: rests, until: now + 8*time.Hour},
	} {
		for _, away := range []time.Duration{0, 4 * time.Minute} {
			m, err := New(&Dry{}, Opts{})
			if err != nil {
				t.Fatal(err)
			}
			m.g.now, m.g.started, m.g.doubt = now, true, d
			saved := m.Snapshot()
			if m, err = New(&Dry{}, Opts{}); err != nil {
				t.Fatal(err)
			}
			m.Restore(saved, away)
			want := d
			if want.wary > 0 {
				want.wary -= now + away
			}
			if want.until > 0 {
				want.until -= now + away
			}
			if m.g.doubt != want {
				t.Errorf("%s, away for %s: got %+v, want %+v", name, away, m.g.doubt, want)
			}
		}
	}
}

// The thermal image follows what is given, outlives a restart, and never falls
// by one.
func TestThermalImage(t *testing.T) {
	o := Opts{MatW: 40, VesselKg: 0.25}
	l := newLimits(o.withDefaults())
	s := guardState{started: true, on: true, leaseEnd: time.Hour, image: 0.5}
	if got, want := mostRiseC(20, 1), 13.53; math.Abs(got-want) > 0.01 {
		t.Errorf("20 W warm 1 kg by %.2f K at most, want %.2f (by hand)", got, want)
	}
	if l.budget < 0.70 || l.budget > 0.72 {
		t.Errorf("40 W under 0.25 kg may give %.2f of it, want 0.71", l.budget)
	}
	left := capBudget(&l, &s)
	s.advance(&l, left)
	if math.Abs(s.image-l.budget) > 1e-6 || !s.overBudget(&l) && math.Abs(s.image-l.budget) > 1e-9 {
		t.Errorf("after the lease of %s the image is at %.4f, want the budget %.4f", left, s.image, l.budget)
	}
	s.on, s.image = false, l.budget-imageBand/2
	if !s.overBudget(&l) {
		t.Error("heat may begin again at once")
	}
	s.image = l.budget - imageBand
	if s.overBudget(&l) {
		t.Error("heat may not begin again below the band")
	}
	s.on, s.image = true, l.budget-imageBand/2
	if s.overBudget(&l) {
		t.Error("heat ends before the budget is given")
	}
	s.on, s.unknown, s.image = false, true, 0
	s.advance(&l, s.now+imageTime)
	if want := 1 - 1/math.E; math.Abs(s.image-want) > 1e-9 {
		t.Errorf("a mat that may be on for one time constant warms the image to %.3f, want %.3f", s.image, want)
	}
	s.unknown = false
	s.advance(&l, s.now+imageTime)
	if want := (1 - 1/math.E) / math.E; math.Abs(s.image-want) > 1e-9 {
		t.Errorf("off for another it is at %.3f, want %.3f", s.image, want)
	}
	for _, on := range []bool{false, true} {
		m, err := New(&Dry{}, o)
		if err != nil {
			t.Fatal(err)
		}
		m.g.image, m.g.on, m.g.started = 0.6, on, true
		saved := m.Snapshot()
		if m, err = New(&Dry{}, o); err != nil {
			t.Fatal(err)
		}
		m.Restore(saved, 15*time.Minute)
		want := 0.6 / math.E
		if on {
			want = 1 - (1-want)*math.Exp(-(saveEvery+m.lim.Lease).Seconds()/imageTime.Seconds())
		}
		if math.Abs(m.g.image-want) > 0.001 {
			t.Errorf("on %v, after a restart in a quarter of an hour the image is at %.3f, want %.3f", on, m.g.image, want)
		}
	}
	for _, image := range []float64{-1, 1.5} {
		m, err := New(&Dry{}, o)
		if err != nil {
			t.Fatal(err)
		}
		if m.Restore(Snapshot{Version: snapshotVersion, Image: image}, 0); m.g.image != 0 {
			t.Errorf("an image of %g was believed", image)
		}
	}
	if newLimits(Opts{}.withDefaults()).budget != 1 || newLimits(Opts{MatW: 8, VesselKg: 1}.withDefaults()).budget != 1 {
		t.Error("a mat of which nothing is known, or a weak one, has a budget")
	}
}

// TestPromise holds the promise to values worked out by hand.
func TestPromise(t *testing.T) {
	for _, tt := range []struct {
		o    Opts
		want Promise
	}{
		{Opts{MatW: 20}, Promise{Share: 0.9}},
		{Opts{VesselKg: 1, MaxDuty: 0.7}, Promise{Share: 0.7}},
		{Opts{MatW: 8, VesselKg: 1}, Promise{Known: true, Kept: true, LimitW: 15.5, Share: 0.9}},
		{Opts{MatW: 15.5, VesselKg: 1}, Promise{Known: true, Kept: true, LimitW: 15.5, Share: 0.9}},
		{Opts{MatW: 16, VesselKg: 1}, Promise{Known: true, LimitW: 15.5, Share: 0.9}},
		{Opts{MatW: 16, VesselKg: 1, MaxDuty: 0.5}, Promise{Known: true, LimitW: 15.5, Share: 0.5}},
	} {
		if got := tt.o.Promise(); got != tt.want {
			t.Errorf("%g W, %g kg: got %+v, want %+v", tt.o.MatW, tt.o.VesselKg, got, tt.want)
		}
	}
}

// A setpoint holds as soon as it was set, and a schedule and a stage too.
func TestSetpointHoldsAtOnce(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 25})
	b.warm()
	if err := b.m.SetSetpoint(b.now, 27); err != nil || b.m.State().SetpointC != 27 {
		t.Errorf("setpoint %g, %v, want 27", b.m.State().SetpointC, err)
	}
	if err := b.m.SetSchedule(b.now, Schedule{{From: 0, To: 0, SetpointC: 22, Stage: "rising"}}); err != nil {
		t.Fatal(err)
	}
	b.m.SetStage(b.now, "rising")
	if c := b.m.State().SetpointC; c != 22 {
		t.Errorf("setpoint %g in the stage, want 22", c)
	}
}
