package sim

import "math"

// Yeast names the yeast that leads a starter. The two respond differently to
// warmth: above 27 °C the first slows down while the second still gains.
type Yeast uint8

// The yeasts a starter may have.
const (
	Humilis    Yeast = iota // Kazachstania humilis (C. milleri), the common sourdough yeast
	Cerevisiae              // Saccharomyces cerevisiae, as in a starter begun with baker's yeast
)

// PerHour returns the yeast's specific growth rate at c degrees Celsius.
func (y Yeast) PerHour(c float64) float64 {
	if y == Cerevisiae {
		return CerevisiaePerHour(c)
	}
	return HumilisPerHour(c)
}

// HumilisPerHour is the growth rate of C. milleri (now K. humilis) against
// warmth, a·x^b·exp(−c·x) with x = 36 °C − T, as quoted from Gänzle, Ehmann &
// Hammes 1998 (AEM 64:2616). Its optimum is 27.1 °C at 0.423 per hour.
func HumilisPerHour(c float64) float64 { return belowMax(c, 0.0124, 2.981, 0.3355, 36) }

// LactobacillusPerHour is the growth rate of L. sanfranciscensis against
// warmth, by the same formula and source; optimum 33 °C at 0.665 per hour.
func LactobacillusPerHour(c float64) float64 { return belowMax(c, 0.1267, 1.5404, 0.1931, 41) }

// belowMax is the published form of both: zero at and above the greatest
// temperature, and far below it next to nothing.
func belowMax(c, a, b, k, max float64) float64 {
	x := max - c
	if !(x > 0) {
		return 0
	}
	return a * math.Pow(x, b) * math.Exp(-k*x)
}

// CerevisiaePerHour is the growth rate of S. cerevisiae against warmth: the
// cardinal temperature model with the averaged parameters quoted from Salvadó
// et al. 2011 (AEM 77:2292).
func CerevisiaePerHour(c float64) float64 { return CTMI(c, 2.84, 32.27, 45.39, 0.368) }

// CTMI is the cardinal temperature model with inflection of Rosso, Lobry &
// Flandrois 1993 (J Theor Biol 162:447): the growth rate at c degrees Celsius
// for the given least, best and greatest temperature and the rate at the best.
func CTMI(c, min, opt, max, best float64) float64 {
	if !(c > min && c < max) {
		return 0
	}
	num := best * (c - max) * (c - min) * (c - min)
	den := (opt - min) * ((opt-min)*(c-opt) - (opt-max)*(opt+min-2*c))
	return num / den
}

// fluidity is how readily a dough of that temperature lets gas move, 1 at
// 20 °C: cold dough is stiff and keeps its gas, which is why a fridge holds a
// starter where it is. Doubling over 15 °C is a guess.
func fluidity(c float64) float64 { return math.Exp2((c - 20) / 15) }

// warmth caches what depends on the temperature for the last one asked, since
// powers and exponentials cost more than the rest of a step together.
type warmth struct {
	yeast                Yeast
	c                    float64
	known                bool
	yeasts, lacto, fluid float64
}

func (w *warmth) at(c float64) (yeasts, lacto, fluid float64) {
	if !w.known || math.Abs(c-w.c) > 0.01 {
		w.c, w.known = c, true
		w.yeasts, w.lacto, w.fluid = w.yeast.PerHour(c), LactobacillusPerHour(c), fluidity(c)
	}
	return w.yeasts, w.lacto, w.fluid
}
