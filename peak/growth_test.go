package peak

import "math"

// Growth is a rise without a fall, in the words of food science: how long
// nothing happens, how fast it then goes, how far.
type Growth struct {
	LagHours float64 // λ, where the steepest tangent meets the start
	RateMMH  float64 // μ, the slope of that tangent, mm per hour
	SizeMM   float64 // A, where the rise would end without a collapse
}

// Gompertz returns the modified Gompertz curve of Zwietering et al. (Appl.
// Environ. Microbiol. 56:1875, 1990) at t hours, in mm.
func (g Growth) Gompertz(t float64) float64 {
	return g.SizeMM * math.Exp(-math.Exp(g.RateMMH*math.E/g.SizeMM*(g.LagHours-t)+1))
}

// Logistic returns the modified logistic curve of the same paper.
func (g Growth) Logistic(t float64) float64 {
	return g.SizeMM / (1 + math.Exp(4*g.RateMMH/g.SizeMM*(g.LagHours-t)+2))
}

// Richards returns the modified Richards curve of the same paper with the
// shape nu; 1 gives the logistic curve.
func (g Growth) Richards(t, nu float64) float64 {
	x := g.RateMMH / g.SizeMM * math.Pow(1+nu, 1+1/nu) * (g.LagHours - t)
	return g.SizeMM * math.Pow(1+nu*math.Exp(1+nu+x), -1/nu)
}

// Baranyi returns the logarithm of the cell count of Baranyi and Roberts
// (Int. J. Food Microbiol. 23:277, 1994) at t hours: logY0 at the start, logK
// at the end, growth rate mu per hour, h0 the work to be done before growth.
func Baranyi(t, logY0, logK, mu, h0 float64) float64 {
	a := t + math.Log(math.Exp(-mu*t)+math.Exp(-h0)-math.Exp(-mu*t-h0))/mu
	return logY0 + mu*a - math.Log1p(math.Expm1(mu*a)/math.Exp(logK-logY0))
}
