package peak

import (
	"math"
	"math/rand/v2"
)

// This file invents the curves that the forecast learns from besides those of
// families_test.go: growth curves of food science with a decline, and sums of
// bursts that may draw nearly any rise. The campaign does not judge with them.

var growthFamilies = []family{
	{"richards", richardsCurve}, {"baranyi", baranyiCurve}, {"table", tableCurve}, {"phases", phasesCurve}, {"bursts", burstsCurve},
}

// richardsCurve is a Richards curve of any skew with a decline.
func richardsCurve(r *rand.Rand, warmPeak, rise float64) shape {
	nu := math.Exp(uniform(r, math.Log(0.1), math.Log(4)))
	g := Growth{LagHours: uniform(r, 0.05, 0.4), SizeMM: 1}
	g.RateMMH = 1 / uniform(r, 0.3, 0.9)
	b, q, keep := uniform(r, 0.9, 1.6), uniform(r, 0.04, 0.3), uniform(r, 0, 0.8)
	return scaled(func(u float64) float64 {
		return g.Richards(u, nu) * (1 - (1-keep)*sigmoid((u-b)/q))
	}, warmPeak, rise)
}

// baranyiCurve makes gas in step with a count of cells that grows after a lag
// and comes to an end.
func baranyiCurve(r *rand.Rand, warmPeak, rise float64) shape {
	k, mu, h0 := uniform(r, 1, 5), 0.0, uniform(r, 0.3, 3)
	mu = (k + h0) / uniform(r, 0.4, 0.9)
	lin := uniform(r, 0, 1)
	b, q, keep := uniform(r, 0.9, 1.5), uniform(r, 0.04, 0.25), uniform(r, 0, 0.7)
	return scaled(func(u float64) float64 {
		y := Baranyi(u, 0, k, mu, h0)
		up := (1-lin)*math.Expm1(y)/math.Expm1(k) + lin*y/k
		return up * (1 - (1-keep)*sigmoid((u-b)/q))
	}, warmPeak, rise)
}

// tableCurve rises and then stands, drifting a little, before it sinks.
func tableCurve(r *rand.Rand, warmPeak, rise float64) shape {
	m, s := uniform(r, 0.25, 0.55), uniform(r, 0.06, 0.16)
	drift, from := uniform(r, 0, 0.25), uniform(r, 0.4, 0.8)
	b, drop := uniform(r, 1, 1.6), uniform(r, 0.1, 1.5)
	round := math.Exp(uniform(r, math.Log(0.01), math.Log(0.2)))
	return scaled(func(u float64) float64 {
		up := math.Exp(-math.Exp(-(u-m)/s)) + drift*max(0, u-from)
		return max(softMin(up, 1+drift*(b-from)-drop*(u-b), round), 0.1)
	}, warmPeak, rise)
}

// phasesCurve is two growth curves, one after the other, with a decline.
func phasesCurve(r *rand.Rand, warmPeak, rise float64) shape {
	part := uniform(r, 0.25, 0.8)
	a, s := uniform(r, 0.15, 0.4), uniform(r, 0.04, 0.14)
	b, v := a+uniform(r, 0.1, 0.5), uniform(r, 0.05, 0.2)
	c, q, keep := uniform(r, 0.9, 1.5), uniform(r, 0.03, 0.25), uniform(r, 0, 0.7)
	grow := func(u, m, s float64) float64 { return math.Exp(-math.Exp(-(u - m) / s)) }
	return scaled(func(u float64) float64 {
		return (part*grow(u, a, s) + (1-part)*grow(u, b, v)) * (1 - (1-keep)*sigmoid((u-c)/q))
	}, warmPeak, rise)
}

// burstsCurve adds bursts of speed and takes a leak away that grows.
func burstsCurve(r *rand.Rand, warmPeak, rise float64) shape {
	n := 1 + r.IntN(4)
	type burst struct{ size, at, wide float64 }
	all := make([]burst, n)
	for i := range all {
		all[i] = burst{uniform(r, 0.3, 1), uniform(r, 0.15, 1), math.Exp(uniform(r, math.Log(0.12), math.Log(0.6)))}
	}
	leak, from, wide := uniform(r, 0.3, 3), uniform(r, 0.7, 1.3), math.Exp(uniform(r, math.Log(0.02), math.Log(0.3)))
	base, lag := uniform(r, 0, 0.3), uniform(r, 0, 0.2)
	const du, steps = 1.0 / 400, 4 * 400
	h, v := 0.0, make([]float64, steps+1)
	top, at := 0.0, 1.0
	for i := 1; i <= steps; i++ {
		u := float64(i) * du
		speed := base * sigmoid((u-lag)/0.03)
		for _, b := range all {
			x := math.Log(max(u-lag, 1e-6)/b.at) / b.wide
			speed += b.size / b.wide * math.Exp(-0.5*x*x)
		}
		speed -= leak * sigmoid((u-from)/wide) * min(1, h*4+0.2)
		h = max(h+speed*du, 0)
		v[i] = h
		if h > top {
			top, at = h, u
		}
	}
	if at > 3.9 || top <= 0 { // it never fell: drawn again
		return burstsCurve(r, warmPeak, rise)
	}
	return table(v, du*warmPeak/at, rise/top)
}
