package sim

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"leavend/sensor"
)

// handClock is a clock that a test moves by hand.
type handClock struct{ t time.Time }

func (c *handClock) now() time.Time { return c.t }

func newHandClock() *handClock { return &handClock{time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC)} }

// TestDemoTellsItsStory runs the demo's first day with a plain thermostat on
// Bramble's mat and checks that what DemoOpts promises comes to pass.
func TestDemoTellsItsStory(t *testing.T) {
	for seed := range uint64(5) {
		clock := newHandClock()
		k, err := New(clock.now, DemoOpts(seed))
		if err != nil {
			t.Fatal(err)
		}
		probe, err := k.Probe(Bramble, sensor.AtVessel)
		if err != nil {
			t.Fatal(err)
		}
		mat, err := k.Mat(Bramble)
		if err != nil {
			t.Fatal(err)
		}
		tops := map[string]*demoTop{Bramble: {}, Pilot: {}, Bowl: {}}
		start, silent, lastSilent := clock.t, 0, 0.0
		var presses []Press
		for minute := range 10 * 60 {
			clock.t = start.Add(time.Duration(minute) * time.Minute)
			presses = append(presses, k.Presses()...)
			r, err := probe.Read(context.Background())
			if err != nil {
				silent, lastSilent = silent+1, float64(minute)/60
			}
			if err := mat.Set(err == nil && r.Value < 26); err != nil {
				t.Fatal(err)
			}
			for name, top := range tops {
				s, err := k.State(name)
				if err != nil {
					t.Fatal(err)
				}
				top.see(float64(minute)/60, s.HeightMM)
			}
		}
		if len(presses) != 2 || presses[0].Vessel != Bramble || presses[0].At.Sub(start) != 30*time.Minute {
			t.Errorf("seed %d: presses %v, want Bramble after 30 minutes and the bowl", seed, presses)
		}
		if silent < 35 || silent > 45 {
			t.Errorf("seed %d: the probe was silent for %d minutes, want about 40", seed, silent)
		}
		if got := tops[Bramble].hour; got < lastSilent+0.7 || got > 8 {
			t.Errorf("seed %d: Bramble tops after %.1f h", seed, got)
		}
		if got := tops[Pilot].hour; got < 1 || got > 5 {
			t.Errorf("seed %d: Pilot tops after %.1f h", seed, got)
		}
		t.Logf("seed %d: Bramble tops after %.1f h at %.0f mm, Pilot after %.1f h, the bowl reaches 1.75 after %.1f h", seed, tops[Bramble].hour, tops[Bramble].top, tops[Pilot].hour, tops[Bowl].at(1.75))
		if got := tops[Bowl].at(1.75); got < 4.5 || got > 8.5 {
			t.Errorf("seed %d: the bowl reaches 1.75 after %.1f h", seed, got)
		}
	}
}

// demoTop remembers the curve of one vessel.
type demoTop struct {
	hour, top float64
	hours, mm []float64
}

func (d *demoTop) see(hour, mm float64) {
	if mm > d.top && hour > 0.6 {
		d.hour, d.top = hour, mm
	}
	d.hours, d.mm = append(d.hours, hour), append(d.mm, mm)
}

// at is when the height first reached the ratio over its least so far.
func (d *demoTop) at(ratio float64) float64 {
	least := math.Inf(1)
	for i, mm := range d.mm {
		if d.hours[i] < 1.2 {
			continue
		}
		if least = math.Min(least, mm); mm >= ratio*least {
			return d.hours[i]
		}
	}
	return math.NaN()
}

// happen lets something befall the named vessel now; e.At is not used.
func (k *Kitchen) happen(name string, e Event) error {
	return k.do(name, func(v *liveVessel) {
		e.At = k.elapsed
		v.turn(e, true)
		if e.For > 0 {
			v.place.on = append(v.place.on, e)
		}
		v.station.begin(e)
	})
}

func TestMatHeatsWhileItsLeaseLasts(t *testing.T) {
	clock := newHandClock()
	k, err := New(clock.now, Opts{Vessels: []VesselOpts{{Name: "jar"}}})
	if err != nil {
		t.Fatal(err)
	}
	mat, err := k.Mat("jar")
	if err != nil {
		t.Fatal(err)
	}
	if mat.Drawing() {
		t.Error("the mat is on before anyone switched it")
	}
	if err := mat.On(context.Background(), time.Minute); err != nil {
		t.Fatal(err)
	}
	clock.t = clock.t.Add(50 * time.Second)
	if !mat.Drawing() {
		t.Error("the mat is off within its lease")
	}
	clock.t = clock.t.Add(15 * time.Second)
	if mat.Drawing() {
		t.Error("the mat outlives its lease")
	}
	if err := mat.On(context.Background(), 0); err == nil {
		t.Error("a lease of nothing was taken")
	}
	if err := k.happen("jar", Event{Kind: MatWelded, For: time.Hour}); err != nil {
		t.Fatal(err)
	}
	if err := mat.Off(context.Background()); err != nil || !mat.Drawing() {
		t.Errorf("the welded mat went off (%v)", err)
	}
}

func TestSourcesFailAsRealOnesDo(t *testing.T) {
	tests := []struct {
		name  string
		event Event
		probe func(r sensor.Reading, err error) bool
		sight func(r sensor.Reading, err error) bool
	}{
		{"sound", Event{}, near(21, 2), near(170, 12)},
		{"probe unplugged", Event{Kind: ProbeGone, For: time.Hour}, failed, near(170, 12)},
		{"probe at its power-on value", Event{Kind: ProbeAt85, For: time.Hour}, near(85, 0), near(170, 12)},
		{"ranger unplugged", Event{Kind: Blind, For: time.Hour}, near(21, 2), failed},
		{"glints alone", Event{Kind: Glinting, For: time.Hour, Amount: 1}, near(21, 2), near(24.5, 2.5)},
		{"jar away", Event{Kind: Chilled, For: time.Hour, Amount: 4}, anything, near(216, 5)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			clock := newHandClock()
			k, err := New(clock.now, Opts{Vessels: []VesselOpts{{Name: "jar", Ranger: RangerOpts{SpikeShare: -1, GlintShare: -1, MissShare: -1}}}})
			if err != nil {
				t.Fatal(err)
			}
			if tt.event.Kind != "" {
				if err := k.happen("jar", tt.event); err != nil {
					t.Fatal(err)
				}
			}
			clock.t = clock.t.Add(time.Minute)
			probe, _ := k.Probe("jar", sensor.AtVessel)
			ranger, _ := k.Ranger("jar")
			if r, err := probe.Read(context.Background()); !tt.probe(r, err) {
				t.Errorf("the probe gives %v, %v", r.Value, err)
			}
			if r, err := ranger.Read(context.Background()); !tt.sight(r, err) {
				t.Errorf("the ranger gives %v, %v", r.Value, err)
			}
		})
	}
}

func near(want, by float64) func(sensor.Reading, error) bool {
	return func(r sensor.Reading, err error) bool { return err == nil && math.Abs(r.Value-want) <= by }
}

func failed(r sensor.Reading, err error) bool { return err != nil && r == (sensor.Reading{}) }

func anything(sensor.Reading, error) bool { return true }

func TestKitchenRefusesWhatItCannotBe(t *testing.T) {
	clock := newHandClock()
	if _, err := New(clock.now, Opts{Vessels: []VesselOpts{{Name: "jar"}, {Name: "jar"}}}); err == nil {
		t.Error("two vessels of one name were taken")
	}
	k, err := New(clock.now, Opts{Vessels: []VesselOpts{{Name: "jar"}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := k.Ranger("bowl"); !errors.Is(err, errNoVessel) {
		t.Errorf("a ranger over nothing: %v", err)
	}
	if _, err := k.Probe("jar", "ceiling"); err == nil {
		t.Error("a probe at the ceiling was taken")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	probe, _ := k.Probe("jar", sensor.AtVessel)
	if _, err := probe.Read(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("a read that was called off gives %v", err)
	}
}

// TestClockThatStepsBackStopsTheKitchen: the kitchen waits until the clock
// has caught up.
func TestClockThatStepsBackStopsTheKitchen(t *testing.T) {
	clock := newHandClock()
	k, err := New(clock.now, Opts{Vessels: []VesselOpts{{Name: "jar"}}})
	if err != nil {
		t.Fatal(err)
	}
	clock.t = clock.t.Add(4 * time.Hour)
	before, _ := k.State("jar")
	clock.t = clock.t.Add(-3 * time.Hour)
	after, _ := k.State("jar")
	if before.HeightMM != after.HeightMM {
		t.Errorf("the height went from %.2f to %.2f", before.HeightMM, after.HeightMM)
	}
}

// TestLongSleepIsNotMadeUpFor: after a year without a question the kitchen
// makes up for two days at most, and its clock goes on from there.
func TestLongSleepIsNotMadeUpFor(t *testing.T) {
	clock := newHandClock()
	k, err := New(clock.now, Opts{Vessels: []VesselOpts{{Name: "jar"}}})
	if err != nil {
		t.Fatal(err)
	}
	clock.t = clock.t.Add(365 * 24 * time.Hour)
	if _, err := k.State("jar"); err != nil || k.elapsed > 48*time.Hour {
		t.Errorf("made up for %s (%v)", k.elapsed, err)
	}
	before := k.elapsed
	clock.t = clock.t.Add(time.Hour)
	if _, err := k.State("jar"); err != nil || k.elapsed-before != time.Hour {
		t.Errorf("an hour later %s have passed (%v)", k.elapsed-before, err)
	}
}

// TestManyMayAskAtOnce is for the race detector: sensors, mat, baker and page
// are read from goroutines of their own.
func TestManyMayAskAtOnce(t *testing.T) {
	start := time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC)
	var passed atomic.Int64
	k, err := New(func() time.Time { return start.Add(time.Duration(passed.Add(int64(time.Second)))) }, DemoOpts(1))
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for _, name := range k.Names() {
		ranger, _ := k.Ranger(name)
		probe, _ := k.Probe(name, sensor.AtMat)
		mat, _ := k.Mat(name)
		for _, ask := range []func(){
			func() { _, _ = ranger.Read(context.Background()) },
			func() { _, _ = probe.Read(context.Background()) },
			func() { _ = mat.On(context.Background(), time.Minute) },
			func() { _, _ = k.State(name) },
			func() { k.Presses() },
		} {
			wg.Go(func() {
				for range 100 {
					ask()
				}
			})
		}
	}
	wg.Wait()
}

func TestDemoHistoryEndsWhenTheKitchenOpens(t *testing.T) {
	opened := newHandClock().t
	r := DemoHistory(1, opened, 6)
	if last := r.Rows[len(r.Rows)-1].At; !last.Before(opened) || opened.Sub(last) > time.Minute {
		t.Errorf("the last row is of %s, the kitchen opens at %s", last, opened)
	}
	if len(r.Truth.Feeds) != 6 {
		t.Fatalf("%d feeds, want 6", len(r.Truth.Feeds))
	}
	for i, f := range r.Truth.Feeds {
		if h := (f.TopAfter - f.FedAfter).Hours(); !f.Peaked || h < 4 || h > 8 {
			t.Errorf("feed %d tops after %.1f h (%v)", i, h, f.Peaked)
		}
	}
}

func ExampleKitchen() {
	at := time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC)
	k, err := New(func() time.Time { return at }, Opts{Vessels: []VesselOpts{{Name: "jar"}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	ranger, _ := k.Ranger("jar")
	for range 4 {
		r, err := ranger.Read(context.Background())
		fmt.Println(at.Format("15:04"), r.Value, "mm", r.Status, err)
		at = at.Add(2 * time.Hour)
	}
	// Output:
	// 08:00 170 mm 0 valid <nil>
	// 10:00 159 mm 0 valid <nil>
	// 12:00 138 mm 0 valid <nil>
	// 14:00 116 mm 0 valid <nil>
}
