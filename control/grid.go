package control

import "math"

// The grid of candidates, each axis in steps of one ratio (guesses, checked by
// the tests). Wanders are those of a covered vessel, of a vessel in draughts,
// and of room air: steps of the level by the square root of a minute, and a
// tenth of that, a minute, for the trend. Losses are shares of the excess a
// minute. Delays, in minutes, run from a thin mat under a jar to a board under
// a bowl, and each may be spread out, as through a slab, or sharp.
const (
	nWander, nLoss, nDelay, nSharp = 3, 5, 10, 3

	calmWander, wanderRatio, trendWander = 0.004, 4.0, 0.1
	slowLoss, lossRatio                  = 1.0 / 400, 2.4
	firstDelay, delayRatio               = 1.5, 1.35
	spreadStages, sharpRatio             = 3.0, 3.5
)

// nWay is the number of ways that heat may take to the probe.
const nWay = nDelay * nSharp

// way is a chain of equal lags that heat passes on its way to the probe. Many
// lags give a sharp delay.
type way struct {
	delay  float64 // of the whole chain, minutes
	stages int
}

// shortestStage bounds the number of stages of a short way: what is quicker
// than a probe's own lag makes no difference, minutes.
const shortestStage = 0.25

var (
	levelStep = grid[[nWander]float64](calmWander, wanderRatio)
	losses    = grid[[nLoss]float64](slowLoss, lossRatio)
	ways      = allWays()
)

// grid is a geometric series.
func grid[T [nWander]float64 | [nLoss]float64 | [nDelay]float64](first, ratio float64) (g T) {
	for i := range len(g) {
		g[i] = first * math.Pow(ratio, float64(i))
	}
	return g
}

func allWays() (all [nWay]way) {
	for i := range all {
		delay := firstDelay * math.Pow(delayRatio, float64(i%nDelay))
		stages := spreadStages * math.Pow(sharpRatio, float64(i/nDelay))
		all[i] = way{delay, int(min(stages, delay/shortestStage))}
	}
	return all
}

// mostStages is the length of the sharpest way.
const mostStages = 40

// lag is the heat in the stages of a way; what leaves the last one has arrived.
type lag [mostStages]float64

// pass moves the heat on by h minutes with on-share u, and returns the share
// that arrives meanwhile.
func (x *lag) pass(w way, h, u float64) float64 {
	was := x.arrives(w)
	k := 1 - math.Exp(-float64(w.stages)*h/w.delay)
	in := u
	for i := range x[:w.stages] {
		before := x[i]
		x[i] += k * (in - before)
		in = (before + x[i]) / 2
	}
	return (was + x.arrives(w)) / 2
}

// arrives is the share that arrives now.
func (x *lag) arrives(w way) float64 { return x[w.stages-1] }

// stored is for how many minutes at full power the heat on its way would do.
func (x *lag) stored(w way) (minutes float64) {
	for _, part := range x[:w.stages] {
		minutes += part * w.delay / float64(w.stages)
	}
	return minutes
}
