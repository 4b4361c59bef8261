package daemon

import (
	"context"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/notify"
	"leavend/control"
	"leavend/sensor/sim/simtest"
)

// withMat is a config with some more lines about the mat.
func withMat(dir, lines string) string {
	return strings.Replace(leavendtest.JarConfig(dir), "[mat]\n", "[mat]\n"+lines+"\n", 1)
}

// lived gives the mat the life of a switch, and has the daemon look at it.
func lived(d *Daemon, now time.Time, life control.Life) {
	d.Mat.Restore(control.Snapshot{Life: life}, 0)
	d.heat.Note(now, d.Mat.State())
	d.heat.Saved(d.Mat.Snapshot())
	d.heat.Save(context.Background())
}

// TestEnergyCountsByTheWattsOfTheTime changes the watts in the config after two
// hours: what was drawn before stays what it was, over restarts, and the counter
// never falls.
func TestEnergyCountsByTheWattsOfTheTime(t *testing.T) {
	dir := t.TempDir()
	hours := func(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }
	now := time.Now()
	last := 0.0
	for i, step := range []struct {
		lines string
		on    float64 // hours altogether at the end of this run
		want  float64 // kWh altogether; negative: it is not known
	}{
		{"", 1, -1},
		{"watts = 20", 2, 0.040}, // at first the hour before is taken to have had the same
		{"watts = 40", 2, 0.040}, // other watts rewrite nothing
		{"watts = 40", 3, 0.080},
		{"", 4, 0.080}, // no longer given
		{"watts = 10", 5, 0.090},
	} {
		d := openPast(t, withMat(dir, step.lines))
		lived(d, now, control.Life{Switches: 1, On: hours(step.on)})
		got := d.heat.Meter.Joules()
		switch {
		case step.want < 0 && got != nil:
			t.Errorf("run %d: %v J are told of unknown watts", i, *got)
		case step.want >= 0 && (got == nil || math.Abs(*got/3.6e6-step.want) > 1e-9 || *got < last):
			t.Errorf("run %d: %v J, want %v kWh and no less than before", i, got, step.want)
		case got != nil:
			last = *got
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestEnergyOfADayAndANight has the mat heat 20 minutes of each hour and asks
// for the last day, the last night and the feed.
func TestEnergyOfADayAndANight(t *testing.T) {
	dir := t.TempDir()
	text := "timezone = \"Europe/Berlin\"\n" + withMat(dir, "watts = 30")
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	d := openPast(t, text)
	begin := time.Date(2027, 3, 8, 6, 0, 0, 0, berlin)
	d.heat.Meter.Lately.Since = begin
	on := time.Duration(0)
	until := func(from, to time.Time) {
		for at := from; at.Before(to); at = at.Add(time.Minute) {
			if at.Minute() < 20 {
				on += time.Minute
			}
			d.heat.Meter.Note(at.Add(time.Minute-time.Second), on)
		}
	}
	now := begin.Add(30 * time.Hour) // noon of the 9th
	until(begin, now)
	d.heat.SaveEnergy(t.Context())
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	d = openPast(t, text)
	defer d.Close()
	d.Vessel("bramble").Fed(now.Add(-3 * time.Hour))
	const hour = 30.0 * 20 / 60 / 1000 // kWh: 30 W, 20 minutes of each
	got := map[string]heating.EnergySpan{}
	for _, e := range d.heat.EnergySpans(now, now.Add(-3*time.Hour)) {
		got[e.Of] = e
	}
	for of, want := range map[string]struct {
		from  time.Time
		hours float64
	}{
		heating.LastDay: {now.Add(-24 * time.Hour), 24}, heating.LastNight: {time.Date(2027, 3, 8, 20, 0, 0, 0, berlin), 12}, heating.SinceFeed: {now.Add(-3 * time.Hour), 3},
	} {
		e, ok := got[of]
		if !ok || e.From.Sub(want.from).Abs() > time.Second || e.To.Sub(e.From) != time.Duration(want.hours*float64(time.Hour)) && of == heating.LastNight || math.Abs(float64(e.KWh)-want.hours*hour) > 0.01*want.hours*hour {
			t.Errorf("%s: %+v, want %.4f kWh from %v", of, e, want.hours*hour, want.from)
		}
	}
	// Of a night that began before anything was counted nothing is told.
	for _, e := range d.heat.EnergySpans(begin.Add(time.Hour), time.Time{}) {
		if e.Of == heating.LastNight {
			t.Errorf("of half a night is told %+v", e)
		}
	}
	if kWh, whole := d.heat.Meter.Between(begin.Add(-time.Hour), now); whole || kWh == 0 {
		t.Errorf("before the beginning: %v kWh, whole %v", kWh, whole)
	}
	// A week on, the old has gone.
	d.heat.Meter.Note(now.Add(10*24*time.Hour), on+time.Minute)
	if n := len(d.heat.Meter.Lately.Quarters); n != 1 {
		t.Errorf("%d quarters of an hour are kept after ten quiet days, want 1", n)
	}
}

// TestWornSwitchIsToldOnce counts a switch towards the life in the config.
func TestWornSwitchIsToldOnce(t *testing.T) {
	dir := t.TempDir()
	told := 0
	for i, step := range []struct {
		lines    string
		switches uint64
		tells    bool
		worn     bool // shown on the page
	}{
		{"switch_life = 100000", 79_999, false, false},
		{"switch_life = 100000", 80_000, true, true},
		{"switch_life = 100000", 80_001, false, true},
		{"switch_life = 100000", 120_000, false, true},
		{"switch_life = 0", 120_001, false, false},
		{"switch_life = 200000", 150_000, false, false}, // a better one
		{"switch_life = 200000", 160_000, true, true},
		{"switch_life = 200000", 359_999, false, true},
		{"switch_life = 200000", 360_000, true, true}, // the one that took its place
	} {
		d := openPast(t, withMat(dir, step.lines)+tellPhone)
		lived(d, time.Now(), control.Life{Switches: step.switches})
		for range 3 {
			d.heat.Worn(t.Context(), d.messages.SwitchWorn)
		}
		if step.tells {
			told++
		}
		letters := 0
		for _, n := range d.notices(t) {
			if n.Kind == notify.Worn {
				letters++
			}
		}
		if letters != told {
			t.Errorf("step %d, %d times of %s: %d letters altogether, want %d", i, step.switches, step.lines, letters, told)
		}
		s := d.Mat.State()
		worn := shownMat(d)
		if len(s.Faults) != 0 || worn.SwitchWorn != step.worn || worn.Switches != int(step.switches) {
			t.Errorf("step %d: faults %v, and the page shows %d of %d, worn %v", i, s.Faults, worn.Switches, worn.SwitchLife, worn.SwitchWorn)
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestEnergyIsWhatThePlantDrew holds a jar warm in the invented kitchen and
// compares what is told with the power that the mat there drew, over a restart.
func TestEnergyIsWhatThePlantDrew(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		// A look each second: ten seconds, the rhythm of the readings that switch
		// the mat, were wrong by up to ten for each pulse and always the same way.
		drew := 0.0
		stop, ended := make(chan struct{}), make(chan struct{})
		go func() {
			defer close(ended)
			for {
				select {
				case <-stop:
					return
				case <-time.After(time.Second):
					drew += truth(t, k).PowerW
				}
			}
		}()
		var told float64
		for range 2 {
			h := openTestDaemon(t, k, withMat(dir, "watts = 18"), nil)
			h.pass(t, 4*time.Hour, nil)
			told = *h.heat.Meter.Joules()
			h.close(t)
		}
		close(stop)
		<-ended
		if drew < 18*3600 || math.Abs(told-drew) > 0.015*drew {
			t.Errorf("%.0f J are told, the mat drew %.0f", told, drew)
		}
		t.Logf("told %.1f Wh, drew %.1f Wh in eight hours", told/3600, drew/3600)
	})
}
