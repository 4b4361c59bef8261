package peak

import (
	"strings"
	"sync"

	"leavend/sensor/kitchen"
)

// look is one moment of one invented curve, with what was true then.
type look struct {
	in    [viewCount]float32
	class int8
	lag   float32 // hours from now to the top
	hours float32 // hours since the feed
	from  float32 // hours from now to the begin of the zone
}

// The classes of a look, in the order of a juror's scores for them.
const (
	classBefore = iota // the zone of the top is still to come
	classOn            // within it
	classAfter         // past it
	classNever         // there is no top in this recording
)

// ride is one curve: the looks from, to.
type ride struct {
	from, to int
	source   string
}

// watchRide runs the detector over a recording without letting it call. Far
// from the top it looks every six minutes, near it every second one.
func watchRide(rec invented) (out []look) {
	d := New(Opts{})
	n := 0
	d.watch = func(d *Detector) {
		n++
		now := d.clock.last.Sub(rec.rows[0].at).Hours() // when a call would be made; the clock may step
		m := look{class: classNever, lag: 99, hours: float32(now)}
		every := 6
		if len(rec.feeds) > 0 {
			f := rec.feeds[0]
			switch {
			case now < f.lo-1.0/60:
				m.class = classBefore
			case now <= f.hi+1.0/60:
				m.class = classOn
			default:
				m.class = classAfter
			}
			if now > f.hi+2 {
				return
			}
			if now > f.lo-0.75 && now < f.hi+0.75 {
				every = 2
			}
			m.lag, m.from = float32(f.peak-now), float32(f.lo-now)
		}
		if n%every != 0 {
			return
		}
		d.view.read(d)
		for i, v := range d.view {
			m.in[i] = float32(v)
		}
		out = append(out, m)
	}
	for _, s := range rec.rows {
		if s.fed {
			d.Fed(s.at)
		}
		d.Add(s.at, s.height, s.temp)
	}
	return out
}

// jurySources draws recordings to learn from or to judge with.
func jurySources(nk, nf int, seed int) (names []string, makers []func() invented) {
	add := func(name string, f func() invented) { names, makers = append(names, name), append(makers, f) }
	for j := range nk {
		add("kitchen", func() invented {
			r := kitchen.RandomRecording(uint64(seed*1_000_000 + j))
			rec := fromKitchen(r)
			if len(rec.feeds) > 1 {
				rec = firstFeed(rec)
			}
			return rec
		})
	}
	for i, f := range families {
		share := 1.0
		switch f.name {
		case "wild", "ledge":
			share = 2
		case "plateau", "twostep", "linear":
			share = 0.5
		}
		for j := range int(float64(nf) * share) {
			s := uint64(seed*1_000_003 + i*100_000 + j)
			add(f.name, func() invented { return single(f, s) })
		}
	}
	for _, e := range kitchen.Catalogue() {
		if strings.Contains(e.Name, "dough") {
			continue
		}
		for j := range nf / 10 {
			add("catalogue", func() invented {
				rec := fromKitchen(e.Record(uint64(seed*1000 + j)))
				if len(rec.feeds) > 1 {
					rec = firstFeed(rec)
				}
				return rec
			})
		}
	}
	for j := range nf {
		s := uint64(seed*1_000_003 + 50_000_000 + j)
		add("quiet", func() invented { return quiet(s) })
	}
	return
}

// firstFeed cuts a recording before its second feed.
func firstFeed(rec invented) invented {
	end := rec.feeds[1].feed - 0.2
	t0 := rec.rows[0].at
	for i, s := range rec.rows {
		if s.at.Sub(t0).Hours() >= end {
			rec.rows = rec.rows[:i]
			break
		}
	}
	rec.feeds = rec.feeds[:1]
	if !rec.feeds[0].peaked {
		rec.feeds = nil
	}
	return rec
}

// watchAll watches all recordings of jurySources.
func watchAll(nk, nf, seed int) (looks []look, rides []ride) {
	names, makers := jurySources(nk, nf, seed)
	parts := make([][]look, len(makers))
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for i := w; i < len(makers); i += 2 {
				parts[i] = watchRide(makers[i]())
			}
		})
	}
	wg.Wait()
	for i, p := range parts {
		if len(p) > 0 {
			rides = append(rides, ride{len(looks), len(looks) + len(p), names[i]})
			looks = append(looks, p...)
		}
	}
	return looks, rides
}
