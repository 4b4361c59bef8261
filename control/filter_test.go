package control

import (
	"math"
	"testing"
)

// Heat on its way is neither lost nor made, arrives after the way's delay in
// the mean, and a sharp way spreads it less than a slab. A chain of n equal lags
// spreads an impulse by its delay over the root of n (the Erlang distribution).
func TestHeatArrivesWholeAndInTime(t *testing.T) {
	for _, h := range []float64{0.05, 1.0 / 6, shortestStage} {
		for _, w := range ways {
			var x lag
			given, arrived, mean, square := 0.0, 0.0, 0.0, 0.0
			for at := 0.0; at < 12*w.delay; at += h {
				u := 0.0
				if at < 1 {
					u, given = 1, given+h
				}
				in := h * x.pass(w, h, u)
				arrived, mean, square = arrived+in, mean+in*(at+h/2), square+in*sq(at+h/2)
				if left := given - arrived - x.stored(w); at > 1 && math.Abs(left) > 0.1*given {
					t.Fatalf("%+v, step %.2f: of %.2f min of heat %.3f are lost after %.1f min", w, h, given, left, at)
				}
			}
			mean = mean/arrived - given/2
			spread := math.Sqrt(square/arrived - sq(mean+given/2) - sq(given)/12)
			if math.Abs(arrived-given) > 1e-3 || math.Abs(mean-w.delay) > 0.1*w.delay || math.Abs(spread-w.delay/math.Sqrt(float64(w.stages))) > 0.1*w.delay {
				t.Errorf("%+v, step %.2f: %.3f of %.3f min arrived after %.2f min, spread by %.2f", w, h, arrived, given, mean, spread)
			}
		}
	}
}

// The covariance moves as F·P·Fᵀ, which is computed here by hand.
func TestCovarianceMoves(t *testing.T) {
	m := motionOver(2, 1.0/60)
	f := [3][3]float64{{1 - m.lost, m.trend, m.core}, {0, 1, 0}, {0, 0, m.fade}}
	p := cov{{4, 1, 0.5}, {1, 3, -0.2}, {0.5, -0.2, 2}}
	got := m.moved(p)
	for i := range 3 {
		for j := range 3 {
			want := 0.0
			for k := range 3 {
				for l := range 3 {
					want += f[i][k] * p[k][l] * f[j][l]
				}
			}
			if math.Abs(got[i][j]-want) > 1e-12 {
				t.Errorf("entry %d, %d is %.6f, want %.6f", i, j, got[i][j], want)
			}
		}
	}
}

// A motion in two halves is the motion over the whole, but for the loss of what
// the core gives meanwhile.
func TestMotionIsExact(t *testing.T) {
	x := state{25, 0.1, -0.3}
	whole, half := motionOver(3, 1.0/25).move(x, 20), motionOver(1.5, 1.0/25)
	twice := half.move(half.move(x, 20), 20)
	for i := range x {
		if math.Abs(whole[i]-twice[i]) > 0.03 {
			t.Errorf("part %d is %.4f in one motion and %.4f in two", i, whole[i], twice[i])
		}
	}
}

// settled is a filter that has followed a level reading for an hour.
func settled(c float64) *filter {
	f := &filter{x: state{c}, unheated: state{c}, cov: cov{{minuteVar}, {0, sq(priorB)}, {0, 0, sq(newlyFilledC / coreMinutes)}}}
	var none [nWay]float64
	for range 60 {
		f.weigh(&none, c, c, 1, losses[1], levelStep[1], 1, 1)
	}
	return f
}

// What no heat and no draught explains is a step: the level follows, the trend
// hardly. A filter that did not foretell it is surprised by as much.
func TestStepSaysNothingOfTheTrend(t *testing.T) {
	f := settled(25)
	var none [nWay]float64
	f.weigh(&none, 25, 20, 1, losses[1], levelStep[1], 1, 1)
	if math.Abs(f.x[temp]-20) > 0.15 || math.Abs(f.x[trend]) > 0.01 {
		t.Errorf("after a step to 20 °C: %.2f °C, trend %.4f °C a minute", f.x[temp], f.x[trend])
	}
	if math.Abs(f.surprise+5) > 0.2 {
		t.Errorf("a step by 5 °C surprises by %.2f °C", f.surprise)
	}
	slow := settled(25)
	for i := range 60 {
		slow.weigh(&none, 25, 25-0.03*float64(i), 1, losses[1], levelStep[1], 1, 1)
	}
	if math.Abs(slow.x[trend]+slow.x[core]+0.03+losses[1]*0.9) > 0.02 {
		t.Errorf("a vessel that cools by 0.03 °C a minute is followed with a trend of %.4f and a pull of %.4f", slow.x[trend], slow.x[core])
	}
}

// The filter is linear: over readings with heat it holds what it holds without,
// and as many units of heat. That is why one filter serves every delay.
func TestHeatAddsUp(t *testing.T) {
	const b = 0.02
	with, without := settled(25), settled(25)
	var heat, none [nWay]float64
	for i := range 40 {
		y := 25 + 0.02*math.Sin(float64(i))
		for d := range heat {
			heat[d] += 0.1 * float64(d%3)
		}
		with.weigh(&heat, 25, y+b*heat[2], 1, losses[1], levelStep[1], 1, 1)
		without.weigh(&none, 25, y, 1, losses[1], levelStep[1], 1, 1)
		for k := range with.x {
			if want := without.x[k] + b*with.ans[2].x[k]; math.Abs(with.x[k]-want) > 1e-9 {
				t.Fatalf("minute %d, part %d: %.6f, want %.6f", i, k, with.x[k], want)
			}
		}
	}
}

// A unit of heat is fitted by least squares: with much more data than prior
// belief the rate is Σre/Σr², and a fit that is too sure forgets.
func TestRateIsFitted(t *testing.T) {
	for _, b := range []float64{0.1, 0.4, 1.2} {
		var a answer
		for i := range 200 {
			r := 1 + 0.5*math.Sin(float64(i))
			a.fit(b*r, r, 0.01, 1)
		}
		got, v := a.rate()
		if math.Abs(got-b) > 0.06*b {
			t.Errorf("the rate is %.4f, want %.2f", got, b)
		}
		if sd := math.Sqrt(v); sd < 0.7*sureB*b || sd > 1.4*sureB*b {
			t.Errorf("the rate %.2f is sure to %.4f, want a %v of it", b, sd, sureB)
		}
	}
	var never answer
	never.fit(-9, 1, 0.01, 1)
	if b, _ := never.rate(); b != leastB {
		t.Errorf("a mat that cools has a rate of %.3f, want the least", b)
	}
	var untaught answer
	untaught.fit(5, 1, 0.01, 0)
	if b, v := untaught.rate(); b != priorB || math.Abs(v-sq(priorSigmaB)) > 1e-12 {
		t.Errorf("what is not trusted taught %.3f ± %.3f", b, math.Sqrt(v))
	}
}
