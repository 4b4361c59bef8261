package demo

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// The demo's past is as invented as its present: Bramble's week on its mat, and
// the last half day of the very kitchen that the visitor sees. It goes through
// the detector and into the store by the code that keeps the present, so that
// the curve, the journal and the scores show what they would after a week in a
// real kitchen.

const (
	pastFeeds = 13             // of Bramble before the last half day, twelve hours apart
	morning   = 12 * time.Hour // how long the kitchen is watched before the visitor comes
	lookEvery = 30 * time.Second
)

// pastReading is what the sensors over a vessel said at one moment.
type pastReading struct {
	at                time.Time
	distanceMM, tempC float64 // NaN where nothing came
	matOn             float64 // 1, 0, or NaN without a mat
	fed               bool
}

// kitchen is the demo's kitchen with what happened in it before.
type kitchen struct {
	*sim.Kitchen
	past map[string][]pastReading // by vessel
}

// openKitchen lets the invented kitchen live through the hours before
// opened, and then gives it the clock of the daemon.
func openKitchen(ctx context.Context, now func() time.Time, seed uint64) (*kitchen, error) {
	opened := now()
	at, living := opened.Add(-morning), false
	o := sim.DemoOpts(seed)
	o.Before -= morning
	k, err := sim.New(func() time.Time {
		if living {
			return now()
		}
		return at
	}, o)
	if err != nil {
		return nil, err
	}
	d := &kitchen{k, map[string][]pastReading{sim.Bramble: bramblesWeek(seed, at)}}
	look, err := d.watcher(ctx)
	if err != nil {
		return nil, err
	}
	for ; at.Before(opened); at = at.Add(lookEvery) {
		look(at)
	}
	living = true
	return d, nil
}

// bramblesWeek is what stood over Bramble before the last half day.
func bramblesWeek(seed uint64, until time.Time) []pastReading {
	var past []pastReading
	for _, r := range sim.DemoHistory(seed, until, pastFeeds).Rows {
		p := pastReading{at: r.At, distanceMM: r.DistanceMM, tempC: r.TempC, fed: r.Fed}
		if r.MatOn {
			p.matOn = 1
		}
		past = append(past, p)
	}
	return past
}

// watcher returns what notes one moment of both jars and holds Bramble at 26 °C
// by plain hysteresis.
func (d *kitchen) watcher(ctx context.Context) (func(at time.Time), error) {
	mat, err := d.Mat(sim.Bramble)
	if err != nil {
		return nil, err
	}
	jars := []string{sim.Bramble, sim.Pilot}
	sources := map[string][2]sensor.Source{}
	for _, name := range jars {
		ranger, err := d.Ranger(name)
		if err != nil {
			return nil, err
		}
		probe, err := d.Probe(name, sensor.AtVessel)
		if err != nil {
			return nil, err
		}
		sources[name] = [2]sensor.Source{ranger, probe}
	}
	on, met := false, map[string]bool{}
	return func(at time.Time) {
		pressed := map[string]bool{}
		for _, press := range d.Presses() {
			pressed[press.Vessel] = true
		}
		for _, name := range jars {
			p := pastReading{at: at, matOn: math.NaN(), fed: pressed[name]}
			p.distanceMM, p.tempC = valueOf(ctx, sources[name][0]), valueOf(ctx, sources[name][1])
			if name == sim.Bramble {
				if p.matOn = 0; on {
					p.matOn = 1
				}
				on = p.tempC < 25.7 || on && p.tempC < 26.3
			}
			// What stood in Bramble before its first feed here is not what the week
			// before it left; no reading fell in between.
			if met[name] = met[name] || p.fed || name != sim.Bramble; met[name] {
				d.past[name] = append(d.past[name], p)
			}
		}
		mat.Set(on)
	}, nil
}

// valueOf reads a source once; NaN when nothing came.
func valueOf(ctx context.Context, s sensor.Source) float64 {
	if r, err := s.Read(ctx); err == nil {
		return r.Value
	}
	return math.NaN()
}

// remember fills a demo's empty store with the past.
func (d *kitchen) remember(conf *config.Config) func(context.Context, *store.Store) error {
	return func(ctx context.Context, s *store.Store) error {
		for name, past := range d.past {
			if err := invent(ctx, s, conf, name, past); err != nil {
				return fmt.Errorf("invent the past of %s: %w", name, err)
			}
		}
		bramble := d.past[sim.Bramble]
		_, err := s.Journal.AddBake(ctx, store.Bake{Vessel: config.Slug(sim.Bramble), At: bramble[len(bramble)-1].at.Add(-42 * time.Hour), Stars: 4,
			Note: "An invented loaf: open crumb, a little sour, shaped too late."})
		return err
	}
}

// invent stores one vessel's past, feed by feed, as the daemon would have.
func invent(ctx context.Context, s *store.Store, conf *config.Config, name string, past []pastReading) error {
	events, err := event.OpenLog(ctx, s.EventLog)
	if err != nil {
		return err
	}
	d := monitor.NewMonitor(conf, event.NewClock(time.Now(), 1), slog.New(slog.DiscardHandler))
	d.Store, d.Events = s, events
	for _, c := range conf.Vessels {
		if c.Name == name {
			d.Vessels = []*monitor.Vessel{monitor.NewVessel(c, nil)}
		}
	}
	v := d.Vessels[0]
	for n := 0; len(past) > 0; n++ {
		var said []event.Event
		if past[0].fed {
			if _, err := s.Journal.AddFeed(ctx, usualFeed(name, past[0].at, n)); err != nil {
				return err
			}
			said = v.Fed(past[0].at)
		}
		end := 1
		for end < len(past) && !past[end].fed {
			end++
		}
		for _, p := range past[:end] {
			said = append(said, take(s, v, p)...)
		}
		if err := s.Readings.Flush(ctx); err != nil {
			return err
		}
		for _, e := range thinned(said) {
			if err := d.SavePast(ctx, e); err != nil {
				return err
			}
		}
		past = past[end:]
	}
	return nil
}

// take gives one moment to a vessel and to the store, and returns what the
// detector says.
func take(s *store.Store, v *monitor.Vessel, p pastReading) []event.Event {
	v.Temperature(sensor.Reading{Value: p.tempC, At: p.at})
	seen, events := v.Distance(p.at, p.distanceMM, "")
	seen.MatOn = p.matOn
	(&monitor.Monitor{Store: s}).SaveSample(seen)
	return events
}

// thinned leaves one forecast an hour: enough to be scored, and a demo must
// start at once.
func thinned(said []event.Event) []event.Event {
	var kept []event.Event
	var last time.Time
	for _, e := range said {
		if e.Kind == event.Forecast {
			if e.At.Sub(last) < time.Hour {
				continue
			}
			last = e.At
		}
		kept = append(kept, e)
	}
	return kept
}

// usualFeed is what the invented baker wrote down, by the ratios of the
// kitchen's story.
func usualFeed(name string, at time.Time, n int) store.Feed {
	f := store.Feed{Vessel: config.Slug(name), At: at, Source: store.Marked, KeptG: 36, Flours: []store.Flour{{Kind: "wholemeal rye", Grams: 72}}, WaterG: 72, DiscardG: 144}
	if name == sim.Bramble {
		f.KeptG, f.WaterG, f.DiscardG, f.CleanJar = 30, 90, 60, n%4 == 0
		f.Flours = []store.Flour{{Kind: "wheat", Grams: 70}, {Kind: "rye", Grams: 20}}
	}
	return f
}
