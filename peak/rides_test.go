package peak

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"

	"leavend/sensor/sim"
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

// watchRide runs the detector over a recording of one feed without letting it
// call. Far from the top it looks every six minutes, near it every second one.
func watchRide(rec invented, past []Feed) (out []look) {
	d := New(Opts{History: past})
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

// jurySources draws recordings to learn from or to judge with: nk of the
// kitchen, nf of each family of our own, nq without a top, and nh histories of
// five feeds.
func jurySources(nk, nf, nq, nh, seed int) (names []string, makers []func() invented) {
	add := func(name string, f func() invented) { names, makers = append(names, name), append(makers, f) }
	for j := range nk {
		add("kitchen", func() invented {
			r := sim.RandomRecording(uint64(seed*1_000_000 + j))
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
	for _, e := range sim.Catalogue() {
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
	for j := range nq {
		s := uint64(seed*1_000_003 + 50_000_000 + j)
		add("quiet", func() invented { return quiet(s) })
	}
	all := append(append([]family{}, families...), growthFamilies...)
	for j := range nh {
		add("history", func() invented {
			if j%3 == 0 {
				return several(all[j/3%len(all)], uint64(seed*1_000_003+70_000_000+j), 5, true)
			}
			return fromKitchen(sim.History(uint64(seed*1_000_000+j), 5))
		})
	}
	return
}

// known is what is on record when a feed of a recording begins.
type known struct {
	rec  invented
	past []Feed
}

// witness runs a detector over a recording and calls each top when it is over,
// by the truth: what is learnt from must not hang on who called before.
func witness(rec invented, fed func(row int, d *Detector)) *Detector {
	d, k := New(Opts{}), -1
	t0 := rec.rows[0].at
	d.watch = func(d *Detector) {
		if k >= 0 && k < len(rec.feeds) && rec.feeds[k].peaked && d.clock.last.Sub(t0).Hours() > rec.feeds[k].hi {
			d.feed.called = true
		}
	}
	for i, s := range rec.rows {
		if s.fed {
			k++
			d.Fed(s.at)
			fed(i, d)
		}
		d.Add(s.at, s.height, s.temp)
	}
	return d
}

// feedByFeed cuts a history into its feeds, each with the record of those
// before it.
func feedByFeed(rec invented) (out []known) {
	var from []int
	var past [][]Feed
	witness(rec, func(row int, d *Detector) {
		from, past = append(from, row), append(past, slices.Clone(d.History()))
	})
	t0 := rec.rows[0].at
	for k, i := range from {
		if k >= len(rec.feeds) || !rec.feeds[k].peaked {
			continue
		}
		rows := rec.rows[i:]
		if k+1 < len(from) {
			rows = rec.rows[i:from[k+1]]
		}
		f, by := rec.feeds[k], rows[0].at.Sub(t0).Hours()
		f.feed, f.peak, f.lo, f.hi = f.feed-by, f.peak-by, f.lo-by, f.hi-by
		f.lo5, f.hi5 = f.lo5-by, f.hi5-by
		out = append(out, known{invented{name: rec.name, rows: rows, feeds: []truth{f}}, past[k]})
	}
	return out
}

// recall invents past feeds for a recording of one feed: its own curve, as the
// detector records it, changed from feed to feed as much as starters change
// that are kept alike. Some bakers did not keep it alike: then all of the past
// was quicker or slower, and higher or lower. Half of the starters are new. One
// that has no top this time had some before, like any starter's, if quiet
// says so.
func recall(rec invented, quiet bool, r *rand.Rand) []Feed {
	if r.IntN(2) == 0 {
		return nil
	}
	if len(rec.feeds) == 0 || !rec.feeds[0].peaked {
		if !quiet {
			return nil
		}
		rec = single(families[r.IntN(len(families))], r.Uint64())
	}
	own, ok := witness(rec, func(int, *Detector) {}).Record()
	if !ok || !own.usable() {
		return nil
	}
	var past []Feed
	pace, size := 0.03*r.NormFloat64(), 0.05*r.NormFloat64()
	for range 1 + r.IntN(6) {
		f := own
		f.WarmHours *= math.Exp(pace + 0.04*r.NormFloat64())
		f.RiseMM *= math.Exp(size + 0.06*r.NormFloat64())
		f.Curve = make([]float32, curveParts)
		bend, sway := math.Exp(0.05*r.NormFloat64()), 0.02*r.NormFloat64()
		for k := range f.Curve {
			x := math.Pow(float64(k+1)/curveParts, bend) * curveParts
			i := min(int(x), curveParts-1)
			before := float32(0)
			if i > 0 {
				before = own.Curve[i-1]
			}
			f.Curve[k] = before + float32(x-float64(i))*(own.Curve[i]-before) + float32(sway*math.Sin(math.Pi*x/curveParts))
		}
		past = append(past, f)
	}
	if r.Float64() < strangers {
		past = estrange(past, r)
	}
	return past
}

// strangers is the share of pasts that are another's.
const strangers = 0.3

// estrange makes the past that of a quicker or slower starter, or jar.
func estrange(past []Feed, r *rand.Rand) []Feed {
	pace, size := math.Exp(0.4*r.NormFloat64()), math.Exp(0.25*r.NormFloat64())
	past = slices.Clone(past)
	for i := range past {
		past[i].WarmHours *= pace
		past[i].RiseMM *= size
	}
	return past
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

// watchAll watches all recordings of jurySources. To judge with, the past is
// left as it was, and "history" becomes "first", "known" and, with the past of
// another, "strange". With known there are twice as many recordings without a
// top, and half of them have a past.
func watchAll(nk, nf, nh, seed int, judge, known bool) (looks []look, rides []ride) {
	nq := nf
	if known {
		nq = 2 * nf
	}
	names, makers := jurySources(nk, nf, nq, nh, seed)
	type part struct {
		looks  []look
		source string
	}
	parts := make([][]part, len(makers))
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for i := w; i < len(makers); i += 2 {
				rec, r := makers[i](), rand.New(rand.NewPCG(uint64(seed), uint64(i)))
				switch {
				case names[i] == "history":
					for _, k := range feedByFeed(rec) {
						source := "known"
						if len(k.past) == 0 {
							source = "first"
						}
						if !judge && r.Float64() < strangers {
							k.past = estrange(k.past, r)
						}
						parts[i] = append(parts[i], part{watchRide(k.rec, k.past), source})
						if judge && source == "known" {
							parts[i] = append(parts[i], part{watchRide(k.rec, estrange(k.past, r)), "strange"})
						}
					}
				case judge:
					parts[i] = []part{{watchRide(rec, nil), names[i]}}
				default:
					parts[i] = []part{{watchRide(rec, recall(rec, known, r)), names[i]}}
				}
			}
		})
	}
	wg.Wait()
	for _, of := range parts {
		for _, p := range of {
			if len(p.looks) > 0 {
				rides = append(rides, ride{len(looks), len(looks) + len(p.looks), p.source})
				looks = append(looks, p.looks...)
			}
		}
	}
	return looks, rides
}
