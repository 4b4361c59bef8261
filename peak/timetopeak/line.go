package timetopeak

import "math"

// What the logarithm of the warm hours to the top depends on, besides the
// dilution itself.
const (
	byLiveliness = iota // this starter against the published rate
	byRest              // c: the work that is not dilution
	byWater             // hydration less 100 %
	byBran              // share of wholemeal or rye
	byHunger            // doublings of the day that it was left unfed, warm
	byFridge            // days in the fridge, on a log scale
	byWarmth            // °C above 22, beyond the warmth response
	byHeat              // °C above 29, where growth slows
	terms
)

// signs are the values of the terms for one feed.
type signs [terms]float64

// prior is what is believed of each term before the first feed: mean and
// standard deviation.
//
// Liveliness: the trade's table spans a factor of 1.5 a row, and starters
// differ more than one blog's. Rest: from the same table, see work. Water: a
// stiff starter takes longer (common practice; the size is a guess). Bran:
// wholemeal and rye are faster (common practice; a guess). Hunger, fridge: the
// first feed after a long rest is slow (common practice; a guess). Warmth: the
// published responses hold to a percent or two per degree (a guess). Heat: growth of
// K. humilis falls off above 29 °C, but bakers see 1:1:1 ripe in two and a half to four
// hours at 30 to 32 °C (common practice, from memory): gas goes on where growth slows,
// and a jar holds more than one yeast. The sizes are fitted to that.
var prior = [terms]struct{ mean, sd float64 }{
	byLiveliness: {0, 0.25},
	byRest:       {0, 0.3},
	byWater:      {-0.25, 0.25},
	byBran:       {-0.12, 0.12},
	byHunger:     {0.10, 0.12},
	byFridge:     {0.12, 0.12},
	byWarmth:     {0, 0.015},
	byHeat:       {0, 0.08},
}

// heatMean is the prior's mean of byHeat for each response.
var heatMean = [responses]float64{humilis: -0.11, between: -0.06, cerevisiae: 0}

const (
	noiseSD   = 0.06 // from feed to feed, of a starter that is kept alike (guess)
	noiseDF   = 6    // how many feeds that guess counts for
	driftSD   = 0.02 // how much the liveliness changes from feed to feed (guess)
	oddFrom   = 4    // the smaller, the less an odd feed counts
	widenByDF = 0.75 // a normal with sd·(1+0.75/df) has about Student's 80 % interval
)

// line is a Bayesian linear model: a Gaussian belief on the terms, with the
// noise estimated on the way.
type line struct {
	mean  [terms]float64
	cov   [terms][terms]float64
	noise float64 // variance of one feed
	df    float64
}

func newLine(response int) line {
	l := line{noise: noiseSD * noiseSD, df: noiseDF}
	for i, p := range prior {
		l.mean[i], l.cov[i][i] = p.mean, p.sd*p.sd
	}
	l.mean[byHeat] = heatMean[response]
	return l
}

// guess returns mean and variance of what the signs add to the logarithm,
// without the noise of the feed itself.
func (l *line) guess(x *signs) (mean, variance float64) {
	for i := range x {
		mean += x[i] * l.mean[i]
		for j := range x {
			variance += x[i] * x[j] * l.cov[i][j]
		}
	}
	return mean, variance
}

// learn takes in that the signs added y, which is uncertain by the variance
// doubt besides the noise. It returns the density of y before, robust to odd
// feeds, up to a constant.
func (l *line) learn(x *signs, y, doubt float64) float64 {
	l.cov[byLiveliness][byLiveliness] += driftSD * driftSD
	mean, v := l.guess(x)
	noise := l.noise + doubt
	e := y - mean
	z2 := e * e / (v + noise)
	density := math.Pow(1+z2/oddFrom, -(oddFrom+1)/2.0) / math.Sqrt(v+noise)

	weight := min(1, (oddFrom+1)/(oddFrom+z2))
	s := v + noise/weight
	var gain [terms]float64
	for i := range gain {
		for j := range x {
			gain[i] += l.cov[i][j] * x[j]
		}
	}
	for i := range gain {
		l.mean[i] += gain[i] * e / s
		for j := range gain {
			l.cov[i][j] -= gain[i] * gain[j] / s
		}
	}
	l.df += weight
	l.noise += weight * (e*e*l.noise/(v+noise) - l.noise) / l.df
	return density
}
