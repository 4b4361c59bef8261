package peak

import (
	"math"
	"math/rand/v2"
	"slices"

	"leavend/peak/growth"
)

// look is one moment of a curve with what was true then, for the call.
type look struct {
	in    [callInputs]float32
	worth float32 // of a call now
	lag   float32 // hours from now to the peak
	hours float32 // age of the feed
	place int8    // see the places
	told  bool    // the lag is near enough to learn from
	at    float64 // hours on the detector's clock
	climb bool    // the network would not be asked
}

// The places where a jar can stand.
const (
	placeBefore = iota // the zone of the peak is still to come
	placeOn            // within it
	placeAfter         // past it
	placeNever         // there is no peak in this recording
	places
)

// moment is one moment of a curve and what was still to come, for the
// forecast.
type moment struct {
	in    [forecastInputs]float32
	left  float32 // hours to the peak at the present pace over thermal time so far; 0 past it
	more  float32 // logarithm of the rise at the peak over the greatest so far
	way   float32 // share of the way from feed to peak
	norm  float32 // hours from feed to peak
	warm  float32 // thermal time since the feed
	late  float32 // hours from the peak to the end of the ripe time
	since float32 // hours since the feed, by a clock that does not step
	doubt float32 // how far the curve is from what past feeds expect

	alone bool       // only past feeds forecast here: the curve has not moved
	q     [3]float32 // what they say
}

// ride is one feed as the networks see it.
type ride struct {
	looks   []look
	moments []moment
	kind    string
	known   bool
}

// What a call is worth. On the peak it is 1. An early one wakes a baker for
// nothing and spoils the feed's only call; none at all is a little worse than
// a late one; one where there is no peak is a lie. Within 5 % of the rise it is
// still ripe.
const (
	worthEarly     = -0.7
	worthNearEarly = 0
	worthNearLate  = 0.4
	worthLate      = 0
	worthMiss      = -0.1
	worthNever     = -4
)

func worthOf(f *truth, now float64) (worth float32, place int8) {
	const minute = 1.0 / 60
	switch {
	case !f.peaked:
		return worthNever, placeNever
	case now < f.lo5-minute:
		return worthEarly, placeBefore
	case now < f.lo-minute:
		return worthNearEarly, placeBefore
	case now <= f.hi+minute:
		return 1, placeOn
	case now <= f.hi5+minute:
		return worthNearLate, placeAfter
	}
	return worthLate, placeAfter
}

// watchFeed runs the detector over a recording of one feed without letting it
// call. For the call it looks every six minutes far from the peak and every
// second one near it, or every one if closely; for the forecast every six.
func watchFeed(rec invented, past []Feed, closely bool) (out ride) {
	d := New(Opts{History: past})
	out.kind, out.known = rec.name, len(past) > 0
	f := truth{}
	if len(rec.feeds) > 0 {
		f = rec.feeds[0]
	}
	n, m, early := 0, 0, 0
	clock := func() float64 { return d.clock.last.Sub(rec.rows[0].at).Hours() } // when a call would be made; it may step
	d.watch = func(d *Detector) bool {
		now := clock()
		every := 6
		if closely {
			every = 1
		} else if f.peaked && now > f.lo-0.75 && now < f.hi+0.75 {
			every = 2
		}
		if n++; n%every != 0 || f.peaked && now > f.hi+2 {
			return false
		}
		l := look{hours: float32(d.thermal.age()), at: d.trend.now, climb: d.climbs()}
		l.worth, l.place = worthOf(&f, now)
		l.lag = float32(f.peak - now)
		l.told = f.peaked && math.Abs(f.peak-now) < 1.5 && now > f.lo-0.75 && now < f.hi+0.75
		callFeatures(&d.curve, &l.in)
		out.looks = append(out.looks, l)
		return false
	}
	d.watchAhead = func(d *Detector, past *[3]float64) {
		now, count := clock(), &m
		if past != nil {
			count = &early
		}
		if *count++; *count%6 != 0 || !f.peaked || now > min(f.hi, f.peak+0.5) {
			return
		}
		warm := max(d.thermal.hours, 0.1)
		a := moment{left: float32(max(f.peak-now, 0) * growth.Pace(d.thermal.tempC) / warm), way: float32(now / f.peak), norm: float32(f.peak), warm: float32(warm), late: float32(f.hi5 - f.peak), since: float32(d.trend.now - d.feed.at)}
		if past != nil {
			a.alone = true
			for i, v := range past {
				a.q[i] = float32(v)
			}
		} else {
			a.more = float32(math.Log(max(f.rise/max(d.feed.high-d.feed.base, 1), 0.9)))
			forecastFeatures(&d.curve, &a.in)
			a.doubt = float32(d.profile.expects(&d.curve).doubt())
		}
		out.moments = append(out.moments, a)
	}
	for _, s := range rec.rows {
		if s.fed {
			d.Fed(s.at)
		}
		d.Add(s.at, s.height, s.temp)
	}
	return out
}

// knownFeed is a feed with what is on record when it begins.
type knownFeed struct {
	rec  invented
	past []Feed
}

// witness runs a detector over a recording and calls each peak when it is
// over, by the truth: what is learnt from must not hang on who called before.
func witness(rec invented, fed func(row int, d *Detector)) *Detector {
	d, k := New(Opts{}), -1
	t0 := rec.rows[0].at
	d.watchAhead = func(*Detector, *[3]float64) {}
	d.watch = func(d *Detector) bool {
		if k >= 0 && k < len(rec.feeds) && rec.feeds[k].peaked && d.clock.last.Sub(t0).Hours() > rec.feeds[k].hi {
			d.feed.called = true
		}
		return false
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
func feedByFeed(rec invented) (out []knownFeed) {
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
		out = append(out, knownFeed{invented{name: rec.name, rows: rows, feeds: []truth{f}}, past[k]})
	}
	return out
}

// recall invents past feeds for a recording of one feed: its own curve, as the
// detector records it, changed from feed to feed as much as starters change
// that are kept alike. Some bakers did not keep it alike: then all of the past
// was quicker or slower, and higher or lower. Three in five starters are new.
// One that has no peak this time had some before, like any starter's.
func recall(rec invented, r *rand.Rand) []Feed {
	if r.IntN(5) < 3 {
		return nil
	}
	if len(rec.feeds) == 0 || !rec.feeds[0].peaked {
		rec = single(families[r.IntN(len(families))], r.Uint64())
	}
	own, ok := witness(rec, func(int, *Detector) {}).Record()
	if !ok || !own.usable() {
		return nil
	}
	var past []Feed
	tempo, size := 0.03*r.NormFloat64(), 0.05*r.NormFloat64()
	for range 1 + r.IntN(6) {
		f := own
		f.WarmHours *= math.Exp(tempo + 0.04*r.NormFloat64())
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
const strangers = 0.25

// estrange makes the past that of a quicker or slower starter, or jar.
func estrange(past []Feed, r *rand.Rand) []Feed {
	tempo, size := math.Exp(0.4*r.NormFloat64()), math.Exp(0.25*r.NormFloat64())
	past = slices.Clone(past)
	for i := range past {
		past[i].WarmHours *= tempo
		past[i].RiseMM *= size
	}
	return past
}

// firstFeed cuts a recording before its second feed.
func firstFeed(rec invented) invented {
	if len(rec.feeds) < 2 {
		return rec
	}
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
