package control

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// witness watches a mat from outside, as a power meter and a notebook would.
// It shares no code with the guard.
type witness struct {
	o        Opts
	now      time.Time
	out      *faulty
	readAt   map[string]time.Time
	readC    map[string]float64
	oddAt    map[string]time.Time // of a value that was not accepted alone
	oddC     map[string]float64
	on       bool
	onAt     time.Time
	offAt    time.Time
	switches []time.Time
	spans    [][2]time.Time
	latched  bool
	mode     Mode
}

// look checks what the meter shows now, and books it.
func (w *witness) look(m *Mat) error {
	hot := w.out.hot()
	switch {
	case hot && !w.on:
		if w.now.Sub(w.offAt) < w.o.MinOff {
			return fmt.Errorf("9: on after a pause of %s", w.now.Sub(w.offAt))
		}
		w.on, w.onAt = true, w.now
		w.switches = append(w.switches, w.now)
		if n := len(w.switches); n > w.o.OnSwitchesPerHour && w.now.Sub(w.switches[n-1-w.o.OnSwitchesPerHour]) < time.Hour {
			return fmt.Errorf("9: %d on-switches within an hour", w.o.OnSwitchesPerHour+1)
		}
	case !hot && w.on:
		w.on, w.offAt = false, w.now
		w.spans = append(w.spans, [2]time.Time{w.onAt, w.now})
	}
	if s := m.State(); s.Output == OutputOff && w.out.on && w.out.hot() {
		return errors.New("12: reported off while the power is on")
	}
	if !hot {
		return nil
	}
	return w.allowed()
}

// allowed checks that heat is allowed now.
func (w *witness) allowed() error {
	if w.out.failOff != nil {
		return nil // what a switch does that cannot be switched is rule 12's matter
	}
	at, ok := w.readAt["crumb"]
	switch {
	case !ok || w.now.Sub(at) >= w.o.Stale:
		return fmt.Errorf("1: on with a reading %s old", w.now.Sub(at))
	case w.latched:
		return errors.New("7: on with a latched fault")
	case w.mode != Hold:
		return errors.New("11: on with the mode off")
	case w.now.Sub(w.onAt) > w.o.MaxOn:
		return fmt.Errorf("5: on for %s", w.now.Sub(w.onAt))
	case w.share() > w.o.MaxDuty+0.001:
		return fmt.Errorf("5: on-share %g of a day", w.share())
	}
	return nil
}

// share is the exact on-share of the last 24 hours.
func (w *witness) share() float64 {
	from := w.now.Add(-24 * time.Hour)
	on := w.now.Sub(w.onAt)
	for _, s := range w.spans {
		if s[1].After(from) {
			on += s[1].Sub(maxTime(s[0], from))
		}
	}
	return on.Hours() / 24
}

func maxTime(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// read tells the mat a temperature and notes it, if it is one to believe.
func (w *witness) read(m *Mat, name string, place Place, c float64) {
	follows := func(was float64, at time.Time, ok bool) bool {
		far := 1 + 0.2*min(w.now.Sub(at).Seconds(), 20)
		return ok && c-was <= far && was-c <= far
	}
	_, read := w.readC[name]
	oddAt, odd := w.oddAt[name]
	switch {
	case c <= -10 || c >= 80:
		delete(w.oddAt, name)
	case !read || follows(w.readC[name], w.readAt[name], true) || follows(w.oddC[name], oddAt, odd && w.now.Sub(oddAt) < w.o.Stale):
		w.readAt[name], w.readC[name] = w.now, c
		delete(w.oddAt, name)
		if place == AtVessel && c >= w.o.VesselCutoffC || place == AtMat && c >= w.o.MatCutoffC {
			w.latched = true
		}
	default:
		w.oddAt[name], w.oddC[name] = w.now, c
	}
	m.Temperature(w.now, name, place, c)
}

// TestSequences drives a mat through long random nights. Faults of probes and
// output, stalls and commands come in any order.
func TestSequences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := Opts{
			MinOff: 2 * time.Minute, MaxOn: 30 * time.Minute, Rest: 5 * time.Minute, MaxDuty: 0.2,
			GainTime: time.Hour, Stale: time.Minute, Lease: 30 * time.Second,
		}.withDefaults()
		w := &witness{o: o, now: time.Now(), readAt: map[string]time.Time{}, readC: map[string]float64{}, oddAt: map[string]time.Time{}, oddC: map[string]float64{}, mode: Hold}
		w.offAt = w.now
		w.out = &faulty{now: func() time.Time { return w.now }}
		m, err := New(w.out, o)
		if err != nil {
			t.Fatal(err)
		}
		m.Tick(w.now)
		_ = m.SetMode(w.now, Hold)
		c := rapid.Float64Range(15, 26).Draw(t, "start")
		most := 25
		if raceEnabled {
			most = 5
		}
		for range rapid.IntRange(3, most).Draw(t, "length") {
			act(t, w, m, &c)
			if err := w.look(m); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// act does one random thing.
func act(t *rapid.T, w *witness, m *Mat, c *float64) {
	switch rapid.SampledFrom([]string{"live", "live", "live", "live", "bad", "silent", "stall", "mode", "ack", "write", "close by"}).Draw(t, "act") {
	case "live":
		slope := rapid.Float64Range(-0.05, 0.1).Draw(t, "slope")
		for range rapid.IntRange(1, 120).Draw(t, "readings") {
			*c = min(*c+slope, 45)
			w.read(m, "crumb", AtVessel, *c)
			if err := w.look(m); err != nil {
				t.Fatal(err)
			}
			pass(t, w, m, 10*time.Second)
		}
	case "bad":
		w.read(m, "crumb", AtVessel, rapid.SampledFrom([]float64{85, 127.94, -127, 60, 0}).Draw(t, "value"))
	case "silent":
		m.Failed(w.now, "crumb", errors.New("no answer"))
		pass(t, w, m, time.Duration(rapid.IntRange(1, 300).Draw(t, "silence"))*time.Second)
	case "stall":
		for range rapid.IntRange(1, 300).Draw(t, "stall") {
			w.now = w.now.Add(time.Second)
			if err := w.look(m); err != nil {
				t.Fatal(err)
			}
		}
	case "mode":
		w.mode = rapid.SampledFrom([]Mode{Off, Hold}).Draw(t, "mode")
		_ = m.SetMode(w.now, w.mode)
	case "ack":
		w.latched = m.Acknowledge(w.now) != nil && w.latched
	case "write":
		w.out.failOff = rapid.SampledFrom([]error{nil, errors.New("i/o error")}).Draw(t, "off fails")
		w.out.failOn = rapid.SampledFrom([]error{nil, errors.New("i/o error")}).Draw(t, "on fails")
		pass(t, w, m, 10*time.Second)
	case "close by":
		w.read(m, "skin", AtMat, rapid.Float64Range(20, 50).Draw(t, "mat"))
	}
}

// pass lets time go by with ticks.
func pass(t *rapid.T, w *witness, m *Mat, d time.Duration) {
	for end := w.now.Add(d); w.now.Before(end); {
		w.now = w.now.Add(2 * time.Second)
		// What the meter shows before the tick is the lease's doing.
		if err := w.look(m); err != nil {
			t.Fatal(err)
		}
		m.Tick(w.now)
		if err := w.look(m); err != nil {
			t.Fatal(err)
		}
	}
}
