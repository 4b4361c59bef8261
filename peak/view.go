package peak

import "math"

// view is what the jury that calls the top looks at: the signs, and the recent
// curve in units of the tolerance that counts as on top. It has no units and
// is of size one.
type view [viewCount]float64

const viewCount = signCount + recentWindows + 2*len(viewShares) + len(viewBends) + trackCount + 13 + len(viewPaces) + viewHabit

// viewShares are shares of the feed's age at which the curve so far is looked
// at.
var viewShares = [...]float64{0.97, 0.94, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.35}

// viewPaces are shares of the feed's age since which the pace that warmth sets
// is compared with the present one: what slows down in a cooling room may
// stand on no top.
var viewPaces = [...]float64{0.93, 0.8, 0.5}

// viewHabit is how many numbers past feeds of the starter add: how many they
// are, when they expect the top, and how well the curve follows them.
const viewHabit = 7

// viewBends are the tracks whose acceleration is a sign.
var viewBends = [...]int{0, 1, 2, 3, 4, 5}

// read fills the view from the detector's state; the signs have been read.
func (w *view) read(d *Detector) {
	copy(w[:], d.signs[:])
	i := signCount
	put := func(v, limit float64) {
		if v != v {
			v = 0
		}
		w[i] = min(max(v, -limit), limit)
		i++
	}
	b, f := &d.trend, &d.feed
	h, hv := b.at(0)
	most := max(f.high-f.base, h-f.base, 1)
	tol := max(1, 0.02*most)
	age := max(d.trendAt-f.at, 0.1)
	var means [recentWindows]float64
	d.recent.means(d.trendAt, h, &means)
	for _, m := range means {
		put(math.Asinh((m-h)/tol)/1.5, 3)
	}
	for _, share := range viewShares {
		below := h - f.base - d.path.riseAt(share*age)
		put(math.Asinh(below/tol)/1.5, 3)
		put(below/most*1.5, 3)
	}
	for _, k := range viewBends {
		t := &b.tracks[k]
		put(t.x[2]/math.Sqrt(t.p[5]+1e-9)/3, 3)
	}
	for k := range b.tracks {
		put(math.Sqrt(b.tracks[k].w)*1.5, 2)
	}
	put(2*b.falling(0)-1, 1)
	put(2*b.falling(-0.1*most/age)-1, 1)
	put(math.Log(math.Sqrt(hv)/tol), 3)
	for _, share := range viewPaces {
		mean := (d.warmth.hours - d.path.warmAt(share*age)) / ((1 - share) * age)
		put(5*math.Log(pace(d.warmth.tempC)/max(mean, 0.02)), 3)
	}
	p := &d.pauses
	put(p.slow/max(p.fast, 0.1)*1.5, 3)
	put((d.trendAt-p.slowAt)/age*4, 3)
	put(p.spurt*2, 3)
	put((d.trendAt-p.spurtAt)/age*2, 2)
	put(math.Log1p(p.dip/tol), 3)
	put(math.Asinh((h-p.slowH)/tol)/1.5, 3)
	put(p.still/age*4, 3)
	put(math.Log(d.noise.perBin/4), 3)
	put(math.Log((d.noise.between*max(d.noise.perBin, 1)+1e-3)/d.noise.within)/2, 3)
	put(min(d.trendAt-f.absentAt, 2)/max(0.3, 0.2*age)-1, 2)
	e := d.expects()
	if !e.ok {
		clear(w[i:])
		return
	}
	put(float64(min(d.habit.feeds, 6))/3, 2)
	for _, z := range [...]float64{-z80, 0, z80} {
		put(math.Asinh(lagScale*(math.Exp(e.mean+z*e.sd)/max(d.warmth.hours, 0.1)-1))/1.5, 3)
	}
	put(e.shift/2, 2)
	put(math.Log(e.misfit+0.05), 3)
	put((math.Log(most)-d.habit.rise)/d.habit.riseSD/2, 3)
}
