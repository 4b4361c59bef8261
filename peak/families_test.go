package peak

import (
	"math"
	"math/rand/v2"
	"time"

	"leavend/peak/growth"
)

// This file invents curves. It is a test generator of many families, made
// apart from the priors of the model: a detector that does well only on the
// curves it expects is caught here.

// shape is the true height above the feed as a function of warm hours.
type shape func(u float64) float64

// family makes one curve that tops out at about warmPeak warm hours with the
// given rise.
type family struct {
	name string
	make func(r *rand.Rand, warmPeak, rise float64) shape
}

func sigmoid(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

var families = []family{
	{"gas", gasCurve}, {"dome", domeCurve}, {"plateau", plateauCurve}, {"cusp", cuspCurve},
	{"shoulder", shoulderCurve}, {"twostep", twoStepCurve}, {"linear", linearCurve}, {"rough", roughCurve},
	{"wild", wildCurve}, {"ledge", ledgeCurve},
}

// gasCurve integrates yeast that grows after a lag, makes gas while food
// lasts, and a dough that holds gas worse and worse.
func gasCurve(r *rand.Rand, warmPeak, rise float64) shape {
	mu := uniform(r, 0.5, 0.85) * 8 // per unit of warmPeak
	lag := uniform(r, 0.04, 0.18)
	food := uniform(r, 0.6, 1.6)
	leak0 := uniform(r, 0.05, 0.4)
	leakAt := uniform(r, 0.85, 1.1)
	leakW := uniform(r, 0.06, 0.16)
	leak1 := uniform(r, 2, 8)
	const du = 1.0 / 500
	n := 5 * 500
	v := make([]float64, n+1)
	x, g, used, top := 0.02, 0.0, 0.0, 0.0
	at := 1.0
	for i := 1; i <= n; i++ {
		u := float64(i) * du
		a := sigmoid((u - lag) / 0.04)
		rate := mu * x * a * max(0, 1-used/food)
		x += rate * du * max(0, 1-x/1.2)
		used += 0.4 * rate * du
		leak := leak0 + leak1*sigmoid((u-leakAt)/leakW)
		g += (rate - leak*g) * du
		v[i] = g
		if g > top {
			top, at = g, u
		}
	}
	return table(v, du*warmPeak/at, rise/top)
}

// table makes a curve of equally spaced values.
func table(v []float64, step, scale float64) shape {
	return func(u float64) float64 {
		x := u / step
		if x <= 0 {
			return v[0] * scale
		}
		i := int(x)
		if i >= len(v)-1 {
			return v[len(v)-1] * scale
		}
		f := x - float64(i)
		return (v[i]*(1-f) + v[i+1]*f) * scale
	}
}

// scaled tabulates f, which knows u/warmPeak only roughly, so that its
// highest point lies at warmPeak and has the wanted height.
func scaled(f shape, warmPeak, rise float64) shape {
	const du, n = 1.0 / 400, 5 * 400
	v := make([]float64, n+1)
	top, at := math.Inf(-1), 1.0
	f0 := f(0)
	for i := range v {
		u := float64(i) * du
		v[i] = f(u) - f0
		if v[i] > top {
			top, at = v[i], u
		}
	}
	return table(v, du*warmPeak/at, rise/top)
}

// domeCurve is a growth curve (the modified Gompertz, which fits rising dough
// best by J. Food Eng. 83:142, 2007, or a skewed logistic) times a decline.
func domeCurve(r *rand.Rand, warmPeak, rise float64) shape {
	b, q := uniform(r, 1.1, 1.55), uniform(r, 0.1, 0.26)
	keep := uniform(r, 0, 0.7)
	grow := func(u float64) float64 { return 0 }
	if r.IntN(3) > 0 {
		m, s := uniform(r, 0.36, 0.5), uniform(r, 0.11, 0.2)
		grow = func(u float64) float64 { return math.Exp(-math.Exp(-(u - m) / s)) }
	} else {
		a, w, skew := uniform(r, 0.42, 0.54), uniform(r, 0.08, 0.12), uniform(r, 0.6, 1.8)
		grow = func(u float64) float64 { return math.Pow(sigmoid((u-a)/w), skew) }
	}
	return scaled(func(u float64) float64 {
		return grow(u) * (1 - (1-keep)*sigmoid((u-b)/q))
	}, warmPeak, rise)
}

// plateauCurve stands within a hair of its peak for hours.
func plateauCurve(r *rand.Rand, warmPeak, rise float64) shape {
	a, w := uniform(r, 0.35, 0.55), uniform(r, 0.06, 0.1)
	b, q := uniform(r, 1.5, 2.2), uniform(r, 0.05, 0.2)
	keep := uniform(r, 0.2, 0.7)
	tilt := uniform(r, -0.02, 0.02)
	return scaled(func(u float64) float64 {
		return sigmoid((u-a)/w)*(1-(1-keep)*sigmoid((u-b)/q)) + tilt*min(u, 1.2)
	}, warmPeak, rise)
}

// cuspCurve climbs to a sharp top and falls at once.
func cuspCurve(r *rand.Rand, warmPeak, rise float64) shape {
	lag, p := uniform(r, 0.1, 0.35), uniform(r, 0.9, 1.8)
	fall, keep := uniform(r, 0.1, 0.5), uniform(r, 0, 0.6)
	round := math.Exp(uniform(r, math.Log(0.006), math.Log(0.25)))
	return scaled(func(u float64) float64 {
		up := math.Pow(max(0, u-lag)/(1-lag), p)
		down := keep + (1-keep)*math.Exp(-(u-1)/fall)
		return softMin(up, down, round)
	}, warmPeak, rise)
}

// softMin rounds the corner where two lines cross.
func softMin(a, b, round float64) float64 {
	d := a - b
	return (a + b - math.Sqrt(d*d+round*round)) / 2
}

// shoulderCurve rises, slows down for hours, rises again and turns sharply.
func shoulderCurve(r *rand.Rand, warmPeak, rise float64) shape {
	at, w := uniform(r, 0.2, 0.4), uniform(r, 0.03, 0.07)
	part := uniform(r, 0.45, 0.8)
	p := uniform(r, 1, 4)
	fall, keep := uniform(r, 0.1, 0.5), uniform(r, 0, 0.6)
	round := shoulderRound(r)
	creep := uniform(r, 0.3, 0.8)
	return scaled(func(u float64) float64 {
		first := part * sigmoid((u-at)/w)
		x := max(0, u-at) / (1 - at)
		second := (1 - part) * (creep*x + (1-creep)*math.Pow(x, p))
		down := keep + (1-keep)*math.Exp(-(u-1)/fall)
		return softMin(first+second, down, round)
	}, warmPeak, rise)
}

func shoulderRound(r *rand.Rand) float64 {
	return math.Exp(uniform(r, math.Log(0.01), math.Log(0.3)))
}

// twoStepCurve is two rises with a slow stretch between them and a round top.
func twoStepCurve(r *rand.Rand, warmPeak, rise float64) shape {
	part := uniform(r, 0.35, 0.7)
	a, w := uniform(r, 0.22, 0.32), uniform(r, 0.04, 0.06)
	b, v := uniform(r, 0.68, 0.8), uniform(r, 0.05, 0.08)
	c, q := uniform(r, 1.15, 1.5), uniform(r, 0.08, 0.2)
	keep := uniform(r, 0.1, 0.6)
	return scaled(func(u float64) float64 {
		return (part*sigmoid((u-a)/w) + (1-part)*sigmoid((u-b)/v)) * (1 - (1-keep)*sigmoid((u-c)/q))
	}, warmPeak, rise)
}

// linearCurve climbs at one speed and rounds off.
func linearCurve(r *rand.Rand, warmPeak, rise float64) shape {
	lag := uniform(r, 0.05, 0.3)
	drop := uniform(r, 0.2, 1.2)
	keep := uniform(r, 0, 0.6)
	round := uniform(r, 0.05, 0.3)
	return scaled(func(u float64) float64 {
		up := (u - lag) / (1 - lag)
		up = (up + math.Sqrt(up*up+0.004)) / 2
		return max(softMin(up, 1+drop*(1-u), round), keep*0.9)
	}, warmPeak, rise)
}

// wildCurve climbs in one to five spurts of any size, width and order, and
// turns at any sharpness: it knows nothing of how starters rise.
func wildCurve(r *rand.Rand, warmPeak, rise float64) shape {
	n := 1 + r.IntN(5)
	var at, wide, size [5]float64
	for i := range n {
		at[i], wide[i] = uniform(r, 0.1, 1.1), math.Exp(uniform(r, math.Log(0.03), math.Log(0.3)))
		size[i] = uniform(r, 0.1, 1) / wide[i]
	}
	creep := uniform(r, 0, 0.4)
	turn := math.Exp(uniform(r, math.Log(0.004), math.Log(0.2)))
	fall, forget := math.Exp(uniform(r, math.Log(0.3), math.Log(8))), uniform(r, 0.1, 1)
	return summed(func(u float64) float64 {
		up := creep
		for i := range n {
			x := (u - at[i]) / wide[i]
			up += size[i] * math.Exp(-x*x/2) / 2.5
		}
		over := sigmoid((u - 1) / turn)
		return up*(1-over) - over*fall*math.Exp(-max(u-1, 0)/forget)
	}, warmPeak, rise)
}

// summed makes a curve of its speed; it never sinks below where it began.
func summed(speed func(u float64) float64, warmPeak, rise float64) shape {
	const du = 1.0 / 400
	h := 0.0
	v := make([]float64, 5*400+1)
	for i := range v {
		v[i] = h
		h = max(h+du*speed(float64(i)*du), 0)
	}
	return scaled(table(v, du, 1), warmPeak, rise)
}

// ledgeCurve is a quick first rise, a long ledge on which it creeps, and a
// last spurt to a sharp or a round top.
func ledgeCurve(r *rand.Rand, warmPeak, rise float64) shape {
	first, at, w := uniform(r, 0.3, 0.9), uniform(r, 0.1, 0.35), uniform(r, 0.02, 0.08)
	last, wl := uniform(r, 0, 0.3), uniform(r, 0.03, 0.12)
	turn := math.Exp(uniform(r, math.Log(0.004), math.Log(0.15)))
	fall, forget := math.Exp(uniform(r, math.Log(0.2), math.Log(5))), uniform(r, 0.1, 1)
	creep := max(0, 1-first-last)*0.6 + 0.02
	return summed(func(u float64) float64 {
		x, y := (u-at)/w, (u-0.98)/wl
		up := creep + first/w*math.Exp(-x*x/2)/2.5 + last/wl*math.Exp(-y*y/2)/1.25
		over := sigmoid((u - 1) / turn)
		return up*(1-over) - over*fall*math.Exp(-max(u-1, 0)/forget)
	}, warmPeak, rise)
}

// roughCurve adds slow wobbles to a dome or a gas curve.
func roughCurve(r *rand.Rand, warmPeak, rise float64) shape {
	f := domeCurve(r, warmPeak, rise)
	if r.IntN(4) == 0 {
		f = gasCurve(r, warmPeak, rise)
	}
	amp := rise * uniform(r, 0.002, 0.015)
	var freq, phase [4]float64
	for i := range freq {
		freq[i] = 2 * math.Pi / uniform(r, 0.6, 3)
		phase[i] = 2 * math.Pi * r.Float64()
	}
	return func(u float64) float64 {
		s := 0.0
		for i := range freq {
			s += math.Sin(freq[i]*u + phase[i])
		}
		return f(u) + amp*s/2*min(1, max(0, f(u)/rise*3))
	}
}

// sample is one row of an invented recording.
type sample struct {
	at     time.Time
	height float64 // minus the distance, mm
	temp   float64
	fed    bool
}

// truth of one feed; hours from the recording's start.
type truth struct {
	feed, peak, lo, hi float64
	lo5, hi5           float64 // the same within 5 %
	rise               float64
	peaked, marked     bool
}

// invented is a recording with its truth.
type invented struct {
	name    string
	rows    []sample
	feeds   []truth
	hours   float64
	history bool
}

// scene is what surrounds the jar in one invented recording.
type scene struct {
	r         *rand.Rand
	period    float64 // hours
	noise     float64 // mm
	wander    float64 // mm
	wanderTau float64 // hours
	quantum   float64 // mm
	missing   float64 // share of readings
	spikes    float64
	gaps      int
	lifts     int
	glints    int
	response  growth.CTMI
	temp      func(h float64) float64
}

var starts = time.Date(2031, 3, 1, 6, 0, 0, 0, time.UTC)

// newScene draws the surroundings. Plain ones have neither gaps nor lifts.
func newScene(r *rand.Rand) scene {
	periods := []float64{2, 5, 10, 15, 15, 15, 30, 30, 60}
	k := scene{r: r,
		period:    periods[r.IntN(len(periods))] / 3600,
		noise:     logUniform(r, 0.25, 3),
		wanderTau: logUniform(r, 2, 16) / 60,
		quantum:   []float64{1, 1, 1, 0.1}[r.IntN(4)],
		missing:   []float64{0, 0.01, 0.05, 0.1}[r.IntN(4)],
		spikes:    []float64{0, 0, 0, 0.002, 0.01}[r.IntN(5)],
		response:  growth.CTMI{TMin: uniform(r, 2, 5), TOpt: uniform(r, 29.5, 33), TMax: uniform(r, 40, 46)},
	}
	if r.IntN(8) == 0 { // a yeast that likes it cooler
		k.response = growth.CTMI{TMin: uniform(r, 4, 8), TOpt: uniform(r, 26.5, 29), TMax: uniform(r, 35, 40)}
	}
	if r.IntN(5) > 0 { // from none to twice what a real VL53L0X was seen to do
		k.wander = sensorWanderMM * 2.1 * r.Float64()
	}
	if r.IntN(6) == 0 { // an echo counts in millimetres
		k.quantum = uniform(r, 2, 3.5)
	}
	if r.IntN(3) == 0 {
		k.gaps = 1 + r.IntN(3)
	}
	if r.IntN(3) == 0 {
		k.lifts = 1 + r.IntN(2)
	}
	if r.IntN(3) == 0 {
		k.glints = 1 + r.IntN(4)
	}
	k.temp = drawTemp(r)
	return k
}

// drawTemp draws a day's course of temperature: a room, or a cycling mat.
func drawTemp(r *rand.Rand) func(float64) float64 {
	mean, swing, phase := uniform(r, 18, 29), uniform(r, 0, 2), 2*math.Pi*r.Float64()
	step, stepAt, tau := 0.0, uniform(r, 1, 8), uniform(r, 0.3, 1.5)
	if r.IntN(3) == 0 {
		step = uniform(r, -3, 3)
	}
	cycle, cycleAmp := uniform(r, 0.3, 0.9), 0.0
	if r.IntN(4) == 0 {
		cycleAmp, swing = uniform(r, 0.2, 0.8), 0.1
	}
	chill, from, long, thaw := 0.0, uniform(r, 0.5, 4), uniform(r, 6, 32), uniform(r, 0.4, 1.2)
	if r.IntN(14) == 0 { // into the fridge for a while, with the sensor over it
		chill = uniform(r, 3, 7)
	}
	return func(h float64) float64 {
		if chill > 0 && h > from {
			cold := 1 - math.Exp(-(min(h, from+long)-from)/thaw)
			return mean + (chill-mean)*cold*math.Exp(-max(h-from-long, 0)/thaw)
		}
		t := mean + swing*math.Sin(2*math.Pi*h/24+phase) + cycleAmp*math.Sin(2*math.Pi*h/cycle)
		if h > stepAt {
			t += step * (1 - math.Exp(-(h-stepAt)/tau))
		}
		return t
	}
}

func (k *scene) pace(tempC float64) float64 {
	return max(k.response.Growth(tempC)/k.response.Growth(25), 0.03)
}

// lay makes the true heights of one feed on a fine grid (30 s) and its truth.
func (k *scene) lay(c shape, from, hours float64) (grid []float64, tr truth) {
	const step = 1.0 / 120
	n := int(hours/step) + 2
	grid = make([]float64, n)
	u, top, at := 0.0, math.Inf(-1), 0
	for i := range grid {
		grid[i] = c(u)
		u += step * k.pace(k.temp(from+float64(i)*step))
		if grid[i] > top {
			top, at = grid[i], i
		}
	}
	rise := top - grid[0]
	around := func(tol float64) (lo, hi float64) {
		i, j := at, at
		for i > 0 && grid[i-1] >= top-tol {
			i--
		}
		for j < n-1 && grid[j+1] >= top-tol {
			j++
		}
		return from + float64(i)*step, from + float64(j)*step
	}
	tr = truth{feed: from, peak: from + float64(at)*step, rise: rise, peaked: true}
	tr.lo, tr.hi = around(max(0.02*rise, 1))
	tr.lo5, tr.hi5 = around(max(0.05*rise, 2))
	return grid, tr
}

// event of absence: from, to (hours), the level's shift afterwards.
type lift struct{ from, to, shift, level float64 }

// record samples heights with everything a sensor and a kitchen add. height
// gives the true height at an hour.
func (k *scene) record(hours float64, height func(h float64) float64, lifts []lift, gaps [][2]float64) []sample {
	r := k.r
	rho := math.Exp(-k.period / k.wanderTau)
	var glints []lift
	for range k.glints {
		at := uniform(r, 0.3, hours)
		glints = append(glints, lift{from: at, to: at + uniform(r, 1, 6)/60, shift: uniform(r, 3, 9) * float64(2*r.IntN(2)-1)})
	}
	w := k.wander * r.NormFloat64()
	rows := make([]sample, 0, int(hours/k.period)+1)
	for i := 0; float64(i)*k.period <= hours; i++ {
		h := float64(i) * k.period
		w = rho*w + math.Sqrt(1-rho*rho)*k.wander*r.NormFloat64()
		y := height(h) + w + k.noise*r.NormFloat64()
		miss := r.Float64() < k.missing
		for _, l := range lifts {
			if h >= l.to {
				y += l.shift
			} else if h >= l.from {
				y = l.level + 3*r.NormFloat64()
				miss = miss || math.IsNaN(y)
			}
		}
		for _, g := range glints {
			if h >= g.from && h < g.to {
				y += g.shift
			}
		}
		if r.Float64() < k.spikes {
			y += uniform(r, 10, 90) * float64(2*r.IntN(2)-1)
		}
		for _, g := range gaps {
			miss = miss || h >= g[0] && h < g[1]
		}
		if miss {
			y = math.NaN()
		}
		t := math.Round((k.temp(h)+0.04*r.NormFloat64())*16) / 16
		at := starts.Add(time.Duration(math.Round(h*3600*1000)) * time.Millisecond)
		rows = append(rows, sample{at: at, height: math.Round(y/k.quantum) * k.quantum, temp: t})
	}
	return rows
}

// draw lifts and gaps within (from, to).
func (k *scene) trouble(from, to, low float64) (lifts []lift, gaps [][2]float64) {
	r := k.r
	for range k.lifts {
		at := uniform(r, from, to)
		level := low
		if r.IntN(3) == 0 {
			level = math.NaN()
		}
		lifts = append(lifts, lift{at, at + uniform(r, 1, 8)/60, uniform(r, -3, 3), level})
	}
	for range k.gaps {
		at := uniform(r, from, to)
		gaps = append(gaps, [2]float64{at, at + uniform(r, 3, 40)/60})
	}
	return lifts, gaps
}

// single invents one marked feed of a family.
func single(f family, seed uint64) invented {
	r := rand.New(rand.NewPCG(seed, 7))
	k := newScene(r)
	warmPeak := math.Exp(math.Log(7) + 0.25*r.NormFloat64())
	rise := uniform(r, 25, 90)
	c := f.make(r, warmPeak, rise)
	hours := 14.0
	grid, tr := k.lay(c, 0, 40)
	hours = max(hours, tr.peak*2.2, tr.hi+2)
	hours = min(hours, 39)
	tr.marked = true
	base := -uniform(r, 120, 175)
	lifts, gaps := k.trouble(0.3, hours, base-uniform(r, 25, 60))
	rows := k.record(hours, func(h float64) float64 { return base + gridAt(grid, h) }, lifts, gaps)
	rows[0].fed = true
	return invented{name: f.name, rows: rows, feeds: []truth{tr}, hours: hours}
}

func gridAt(grid []float64, h float64) float64 {
	x := h * 120
	i := min(int(x), len(grid)-2)
	f := min(x-float64(i), 1)
	return grid[i]*(1-f) + grid[i+1]*f
}

// quiet invents a recording without a peak.
func quiet(seed uint64) invented {
	r := rand.New(rand.NewPCG(seed, 11))
	k := newScene(r)
	k.lifts = r.IntN(3)
	hours := 18.0
	base := -uniform(r, 120, 175)
	height := func(h float64) float64 { return base }
	name := "dead"
	switch r.IntN(4) {
	case 0:
		name = "creep"
		total, tau := uniform(r, 1, 5), uniform(r, 3, 20)
		height = func(h float64) float64 { return base + total*(1-math.Exp(-h/tau)) }
	case 1:
		name = "climbing"
		at, w, rise := uniform(r, 12, 19), uniform(r, 1.2, 4), uniform(r, 30, 80)
		if at+0.8*w < hours { // it would stand still before the end, as on a peak
			at = hours - 0.8*w
		}
		height = func(h float64) float64 { return base + rise*(sigmoid((h-at)/w)-sigmoid(-at/w)) }
	case 2:
		name = "late"
		at, p, rise := uniform(r, 1, 4), uniform(r, 0.6, 1.6), uniform(r, 20, 60)
		height = func(h float64) float64 { return base + rise*math.Pow(max(0, h-at)/(18-at), p) }
	}
	lifts, gaps := k.trouble(0.5, hours, base-40)
	rows := k.record(hours, height, lifts, gaps)
	rows[0].fed = true
	return invented{name: "no-" + name, rows: rows, hours: hours}
}

// several invents n feeds of one starter; marked says whether the baker told.
func several(f family, seed uint64, n int, marked bool) invented {
	r := rand.New(rand.NewPCG(seed, 13))
	k := newScene(r)
	k.period = max(k.period, 10.0/3600)
	k.gaps = 0
	shape := r.Uint64()
	warmPeak := math.Exp(math.Log(7) + 0.25*r.NormFloat64())
	rise := uniform(r, 40, 90)
	base := -uniform(r, 130, 175)
	k.temp = drawTemp(r)
	var grids [][]float64
	var feeds []truth
	var lifts []lift
	var bases []float64
	temps := make([]float64, n)
	for i := range temps {
		temps[i] = uniform(r, -3, 3)
	}
	day := k.temp
	at := 0.0
	k.temp = func(h float64) float64 {
		i := 0
		for i+1 < len(feeds) && feeds[i+1].feed <= h {
			i++
		}
		return day(h) + temps[i]
	}
	for i := range n {
		feeds = append(feeds, truth{feed: at})
		c := f.make(rand.New(rand.NewPCG(shape, 1)), warmPeak*math.Exp(0.04*r.NormFloat64()), rise*math.Exp(0.04*r.NormFloat64()))
		grid, tr := k.lay(c, at, 45)
		tr.marked = marked
		feeds[i] = tr
		length := (tr.peak - at) * uniform(r, 1.6, 2.6)
		b := base + 3*r.NormFloat64()
		if marked {
			b = base
		}
		grids, bases = append(grids, grid), append(bases, b)
		if !marked && i > 0 {
			level := base - uniform(r, 15, 50)
			if r.IntN(2) == 0 {
				level = math.NaN()
			}
			lifts = append(lifts, lift{at, at + uniform(r, 2.5, 6)/60, 0, level})
		}
		at += length
	}
	hours := at
	height := func(h float64) float64 {
		i := 0
		for i+1 < n && feeds[i+1].feed <= h {
			i++
		}
		return bases[i] + gridAt(grids[i], h-feeds[i].feed)
	}
	if !marked {
		l, _ := k.trouble(1, hours, base-40)
		lifts = append(lifts, l...)
	}
	rows := k.record(hours, height, lifts, nil)
	if marked {
		for _, tr := range feeds {
			i := int(math.Ceil(tr.feed/k.period - 1e-6))
			rows[min(i, len(rows)-1)].fed = true
		}
	}
	name := "unmarked"
	if marked {
		name = "history"
	}
	return invented{name: name, rows: rows, feeds: feeds, hours: hours, history: marked}
}
