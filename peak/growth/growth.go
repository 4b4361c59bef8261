// Package growth holds published rates of growth by temperature, and the pace
// at which a starter lives.
package growth

import "math"

// CTMI is the cardinal temperature model with inflection of Rosso, Lobry and
// Flandrois (J. Theor. Biol. 162:447, 1993): growth relative to the optimum,
// 0 outside (TMin, TMax), 1 at TOpt. Temperatures are in °C.
type CTMI struct{ TMin, TOpt, TMax float64 }

// Growth returns the relative growth rate at tempC, between 0 and 1.
func (c CTMI) Growth(tempC float64) float64 {
	if !(tempC > c.TMin && tempC < c.TMax) {
		return 0
	}
	num := (tempC - c.TMax) * (tempC - c.TMin) * (tempC - c.TMin)
	den := (c.TOpt - c.TMin) * ((c.TOpt-c.TMin)*(tempC-c.TOpt) - (c.TOpt-c.TMax)*(c.TOpt+c.TMin-2*tempC))
	return num / den
}

// Ganzle is the growth factor a·x^b·exp(-c·x), x = TMax - T, in 1/h, as
// quoted from Gänzle, Ehmann and Hammes (AEM 64:2616, 1998).
type Ganzle struct{ A, B, C, TMax float64 }

// Growth returns the growth rate at tempC in 1/h; 0 from TMax on.
func (g Ganzle) Growth(tempC float64) float64 {
	x := g.TMax - tempC
	if !(x > 0) {
		return 0
	}
	return g.A * math.Pow(x, g.B) * math.Exp(-g.C*x)
}

// The pace is that of S. cerevisiae, cardinal temperatures averaged over
// strains (quoted from Salvadó et al., AEM 77:2292, 2011).
const (
	TMin = 2.84
	TOpt = 32.27
	TMax = 45.39
)

// paceC is where a thermal hour lasts an hour, °C.
const paceC = 25

// Pace returns how fast a starter lives at tempC relative to 25 °C: an hour at
// pace 2 counts as two thermal hours. NaN counts as 25 °C. Below the
// cardinal minimum the pace is a small floor and not zero, because a jar in
// the fridge does go on.
func Pace(tempC float64) float64 {
	if !(tempC > -50 && tempC < 100) {
		return 1
	}
	c := CTMI{TMin, TOpt, TMax}
	return max(c.Growth(tempC)/c.Growth(paceC), 0.02)
}
