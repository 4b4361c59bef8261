package peak

import (
	"math"
	"math/rand/v2"
)

// This file adds kinds of curves that are built unlike those of
// families_test.go, and keeps apart who may see which: kinds to learn from,
// kinds on which limits are chosen, and kinds that are for reporting alone.

// learnKinds are learnt from.
var learnKinds = append(append([]family{}, families...), append(append([]family{}, growthFamilies...),
	family{"pulse", pulseCurve}, family{"gompertz", gompertzPairCurve}, family{"spline", splineCurve}, family{"gust", gustCurve})...)

// blendCurve is a part of one kind and a part of another, each on a time of its
// own that runs now faster and now slower: breadth beyond any single kind.
func blendCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		a, b := learnKinds[r.IntN(len(learnKinds))], learnKinds[r.IntN(len(learnKinds))]
		f, g := a.make(r, 1, 1), b.make(r, logUniform(r, 0.6, 1.5), 1)
		warp, share := drawWarp(r), uniform(r, 0.2, 1)
		return func(u float64) float64 {
			u = warp(u)
			return share*f(u) + (1-share)*g(u)
		}
	}, warmPeak, rise)
}

// drawWarp draws a time that runs at a pace of its own, by up to twice either way.
func drawWarp(r *rand.Rand) func(u float64) float64 {
	x, y := []float64{0}, []float64{0}
	for x[len(x)-1] < 6 {
		l, step := len(x)-1, uniform(r, 0.15, 0.6)
		x, y = append(x, x[l]+step), append(y, y[l]+step*logUniform(r, 0.5, 2))
	}
	return monotone(x, y)
}

// chooseKinds set limits and the width of intervals.
var chooseKinds = []family{{"hill", hillCurve}, {"knots", knotsCurve}, {"twin", twinCurve}}

// reportKinds are looked at when all is fixed.
var reportKinds = []family{{"chain", chainCurve}, {"membrane", membraneCurve}, {"wander", walkCurve}, {"dough", doughCurve}}

// valid makes a curve whose top lies well inside, that falls behind it, and
// that had no other top before by more than a hair.
func valid(f func() shape, warmPeak, rise float64) shape {
	var c shape
	for range 30 {
		c = scaled(f(), warmPeak, rise)
		high, dip := 0.0, 0.0
		for u := 0.0; u <= warmPeak; u += warmPeak / 400 {
			high = max(high, c(u))
			dip = max(dip, high-c(u))
		}
		if dip < max(0.05*rise, 1.5) && c(2.2*warmPeak) < 0.93*rise && c(0.5*warmPeak) < 0.99*rise {
			break
		}
	}
	return c
}

func logUniform(r *rand.Rand, lo, hi float64) float64 {
	return math.Exp(uniform(r, math.Log(lo), math.Log(hi)))
}

// pulseCurve is a gamma or Weibull pulse, which may keep a part of its height.
func pulseCurve(r *rand.Rand, warmPeak, rise float64) shape {
	a, c, keep := logUniform(r, 1.2, 8), logUniform(r, 0.8, 5), uniform(r, 0, 0.7)
	f := func(u float64) float64 { return math.Pow(u, a) * math.Exp(-a/c*(math.Pow(u, c)-1)) }
	return scaled(func(u float64) float64 {
		if u > 1 {
			return keep + (1-keep)*f(u)
		}
		return f(u)
	}, warmPeak, rise)
}

// gompertzPairCurve is a Gompertz rise less a later one.
func gompertzPairCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		m, s := uniform(r, 0.2, 0.6), logUniform(r, 0.05, 0.3)
		n, q := m+uniform(r, 0.2, 0.9), logUniform(r, 0.03, 0.4)
		part := uniform(r, 0.3, 1)
		return func(u float64) float64 {
			return math.Exp(-math.Exp(-(u-m)/s)) - part*math.Exp(-math.Exp(-(u-n)/q))
		}
	}, warmPeak, rise)
}

// splineCurve climbs through random knots and falls through others; the curve
// between them is monotone.
func splineCurve(r *rand.Rand, warmPeak, rise float64) shape {
	up, down := 2+r.IntN(5), 1+r.IntN(4)
	x, y := []float64{0}, []float64{0}
	lag := uniform(r, 0, 0.3)
	var w, h []float64
	for range up {
		w, h = append(w, r.ExpFloat64()+0.3), append(h, r.ExpFloat64()+0.1)
	}
	sw, sh := sum(w), sum(h)
	at, height := lag, 0.0
	x, y = append(x, max(lag, 1e-3)), append(y, uniform(r, 0, 0.03))
	for i := range up {
		at, height = at+w[i]/sw*(1-lag), height+h[i]/sh
		x, y = append(x, at), append(y, max(height, y[len(y)-1]))
	}
	for range down {
		at += logUniform(r, 0.15, 1)
		height *= uniform(r, 0.3, 0.97)
		x, y = append(x, at), append(y, height)
	}
	x, y = append(x, 6), append(y, height*0.8)
	return scaled(monotone(x, y), warmPeak, rise)
}

func sum(v []float64) (s float64) {
	for _, x := range v {
		s += x
	}
	return s
}

// monotone interpolates as Fritsch and Carlson do (SIAM J. Numer. Anal.
// 17:238, 1980), with harmonic means of the slopes.
func monotone(x, y []float64) shape {
	n := len(x)
	d, m := make([]float64, n-1), make([]float64, n)
	for i := range d {
		d[i] = (y[i+1] - y[i]) / (x[i+1] - x[i])
	}
	for i := 1; i < n-1; i++ {
		if d[i-1]*d[i] > 0 {
			m[i] = 2 * d[i-1] * d[i] / (d[i-1] + d[i])
		}
	}
	return func(u float64) float64 {
		i := 0
		for i < n-2 && x[i+1] < u {
			i++
		}
		h := x[i+1] - x[i]
		t := min(max((u-x[i])/h, 0), 1)
		t2, t3 := t*t, t*t*t
		return (2*t3-3*t2+1)*y[i] + (t3-2*t2+t)*h*m[i] + (3*t2-2*t3)*y[i+1] + (t3-t2)*h*m[i+1]
	}
}

// gustCurve has a speed that is a hump times the exponential of a random walk
// that returns, less a fall that sets in.
func gustCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		const du = 1.0 / 400
		at, wide := uniform(r, 0.3, 0.7), uniform(r, 0.15, 0.5)
		gust, tau := uniform(r, 0, 0.8), logUniform(r, 0.05, 0.4)
		turn, fall, forget := logUniform(r, 0.02, 0.25), logUniform(r, 0.2, 3), uniform(r, 0.2, 1)
		h, w := 0.0, 0.0
		v := make([]float64, 5*400+1)
		for i := range v {
			u := float64(i) * du
			v[i] = h
			w += -w*du/tau + gust*math.Sqrt(2*du/tau)*r.NormFloat64()
			x := (u - at) / wide
			over := sigmoid((u - 1) / turn)
			h = max(h+du*math.Exp(w)*(math.Exp(-x*x/2)*(1-over)-over*fall*math.Exp(-max(u-1, 0)/forget)*0.4), 0)
		}
		return table(v, du, 1)
	}, warmPeak, rise)
}

// hillCurve is a Hill function that rises times one that falls.
func hillCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		n, k := logUniform(r, 2, 7), uniform(r, 0.3, 0.7)
		m, d := logUniform(r, 2, 14), uniform(r, 0.9, 1.6)
		keep := uniform(r, 0, 0.7)
		return func(u float64) float64 {
			p := math.Pow(u, n)
			return p / (math.Pow(k, n) + p) * (keep + (1-keep)/(1+math.Pow(u/d, m)))
		}
	}, warmPeak, rise)
}

// knotsCurve is straight between random knots and smoothed by a running mean.
func knotsCurve(r *rand.Rand, warmPeak, rise float64) shape {
	x, y := []float64{0}, []float64{0}
	n := 2 + r.IntN(4)
	for i := range n {
		x = append(x, x[i]+r.ExpFloat64()+0.2)
		y = append(y, y[i]+r.ExpFloat64()+0.05)
	}
	for i := range x {
		x[i] /= x[n]
		y[i] /= y[n]
	}
	for range 1 + r.IntN(3) {
		l := len(x) - 1
		x, y = append(x, x[l]+logUniform(r, 0.1, 0.8)), append(y, y[l]*uniform(r, 0.3, 0.95))
	}
	x, y = append(x, 7), append(y, y[len(y)-1]*0.9)
	wide := logUniform(r, 0.02, 0.25)
	at := func(u float64) float64 {
		i := 0
		for i < len(x)-2 && x[i+1] < u {
			i++
		}
		return y[i] + (u-x[i])/(x[i+1]-x[i])*(y[i+1]-y[i])
	}
	return scaled(func(u float64) float64 {
		s := 0.0
		for k := -8; k <= 8; k++ {
			s += at(max(u+wide*float64(k)/16, 0))
		}
		return s / 17
	}, warmPeak, rise)
}

// twinCurve is the gas of two populations, one after the other, that leaks
// through a skin which gives way gradually.
func twinCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		const du = 1.0 / 400
		a, b := uniform(r, 0.15, 0.5), uniform(r, 0.5, 1.1)
		wa, wb := uniform(r, 0.05, 0.2), uniform(r, 0.08, 0.3)
		part := uniform(r, 0.2, 0.9)
		k0, k1, tau := uniform(r, 0, 0.3), logUniform(r, 0.3, 6), logUniform(r, 0.08, 0.5)
		from, g := uniform(r, 0.8, 1.1), 0.0
		v := make([]float64, 5*400+1)
		for i := range v {
			u := float64(i) * du
			v[i] = g
			make1 := part / wa / math.Pow(math.Cosh((u-a)/wa), 2)
			make2 := (1 - part) / wb / math.Pow(math.Cosh((u-b)/wb), 2)
			open := -math.Expm1(-math.Pow(max(u-from, 0)/tau, 2))
			g = max(g+du*((make1+make2)/2-(k0+k1*open)*g), 0)
		}
		return table(v, du, 1)
	}, warmPeak, rise)
}

// chainCurve is the last but one of a chain of first-order steps.
func chainCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		const du = 1.0 / 400
		n := 3 + r.IntN(5)
		rate := make([]float64, n)
		for i := range rate {
			rate[i] = logUniform(r, 3, 16)
		}
		rate[n-1] = logUniform(r, 0.1, 4)
		x := make([]float64, n)
		x[0] = 1
		v := make([]float64, 5*400+1)
		for i := range v {
			v[i] = x[n-1]
			in := 0.0
			for k := range x {
				out := rate[k] * x[k] * du
				x[k] += in - out
				in = out
			}
		}
		return table(v, du, 1)
	}, warmPeak, rise)
}

// membraneCurve is Monod growth on one sugar whose gas stretches a membrane;
// past a stretch it tears, the faster the farther it is beyond.
func membraneCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		const du = 1.0 / 400
		mu, ks := uniform(r, 4, 9), logUniform(r, 0.02, 0.6)
		x, s, g, torn := logUniform(r, 0.01, 0.1), 1.0, 0.0, 0.0
		yield, leak := uniform(r, 0.5, 1), logUniform(r, 0.02, 0.4)
		limit, tear, hole := uniform(r, 0.3, 0.95), logUniform(r, 2, 60), logUniform(r, 0.5, 8)
		v := make([]float64, 5*400+1)
		for i := range v {
			v[i] = g
			eat := mu * x * s / (ks + s) * du
			eat = min(eat, s)
			s -= eat
			x += 0.6 * eat
			g += yield*eat - (leak+hole*torn)*g*du
			if g > limit*yield {
				torn += tear * (g/yield - limit) * du
			}
			torn = min(torn+0.02*du, 1)
		}
		return table(v, du, 1)
	}, warmPeak, rise)
}

// walkCurve has a logarithm of speed that walks at random on its way up, and
// after its peak a random walk downwards.
func walkCurve(r *rand.Rand, warmPeak, rise float64) shape {
	return valid(func() shape {
		const du = 1.0 / 400
		step, pull := uniform(r, 0.5, 2.5), uniform(r, 0.5, 4)
		w, fall := uniform(r, -3, -0.5), 0.0
		end, quick := uniform(r, 0.85, 1.05), logUniform(r, 0.3, 5)
		h := 0.0
		v := make([]float64, 5*400+1)
		for i := range v {
			u := float64(i) * du
			v[i] = h
			w += -pull*(w-0.3)*du + step*math.Sqrt(du)*r.NormFloat64()
			slow := math.Exp(-math.Pow(u/end, 6))
			if slow < 0.8 {
				fall += quick * du * (1 + 0.5*r.NormFloat64())
			}
			h = max(h+du*(math.Exp(w)*slow-min(fall, 1.5)*h*0.6), 0)
		}
		return table(v, du, 1)
	}, warmPeak, rise)
}

// doughCurve passes through the published expansion of a dough (181 % at 60
// min, 200 % at 120, falling by 150: Bourekoua et al. 2022, Agrobiologia
// 12:3184) with its times and its later fall varied.
func doughCurve(r *rand.Rand, warmPeak, rise float64) shape {
	bend, lag := uniform(r, 0.7, 2.2), uniform(r, 0.02, 0.3)
	x := []float64{0, lag, lag + 0.25*(1-lag)*uniform(r, 0.7, 1.3), lag + 0.5*(1-lag), 1, 1.25 * uniform(r, 0.9, 1.2), 1.9, 6}
	y := []float64{0, 0.01, 0.35 * uniform(r, 0.6, 1.2), 0.81, 1, uniform(r, 0.8, 0.985), uniform(r, 0.3, 0.78), 0.2}
	f := monotone(x, y)
	return scaled(func(u float64) float64 { return f(min(math.Pow(u, bend), 5.9)) }, warmPeak, rise)
}
