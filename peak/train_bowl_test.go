package peak

import (
	"math"
	"math/rand/v2"
)

// target is one moment of a dough and what was still to come.
type target struct {
	in   [bowlInputs]float32
	left float32 // hours to the target at the present pace over thermal time so far; 0 past it
}

// watchBowl runs the detector over a dough and keeps moments until a little
// past its target.
func watchBowl(b leaven) (out []target) {
	d := New(Opts{Kind: Bowl, FloorKnown: true, TargetRatio: b.ratio})
	n := 0
	d.watchAhead = func(d *Detector) {
		now := d.trendAt - d.feed.at
		if n++; n%4 != 0 || now > b.at+0.1 {
			return
		}
		m := target{left: float32(max(b.at-now, 0) / (max(d.thermal.hours, 0.1) / pace(d.thermal.tempC)))}
		d.readBowl(&m.in)
		out = append(out, m)
	}
	for _, s := range b.rows {
		if s.fed {
			d.Fed(s.at)
		}
		d.Add(s.at, s.height, s.temp)
	}
	return out
}

// gatherBowls draws the doughs to learn from: n of each kind that a dough may
// follow, and as many of the kitchen as of all of them.
func gatherBowls(n int, seed uint64) (all []target) {
	kinds := []family{families[0], families[1], families[6], families[7], growthFamilies[0], growthFamilies[1], growthFamilies[3]}
	parts := make([][]target, len(kinds)*n)
	inParallel(len(parts), func(i int) {
		r := rand.New(rand.NewPCG(seed*1000+uint64(i/n), uint64(i%n)))
		parts[i] = watchBowl(inventBowl(kinds[i/n], r))
		if b, ok := kitchenBowl(seed*100_000 + uint64(i)); ok {
			parts[i] = append(parts[i], watchBowl(b)...)
		}
	})
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// learnBowl makes the network of a bowl's target.
func learnBowl(all []target, seed uint64, epochs int) *learner {
	l := newLearner(seed, decodeModel(nil).bowl, 0)
	l.study(seed, len(all), epochs, 128, 4e-3, func(d *desk, i int, _ float64) {
		m := &all[i]
		y, w := math.Log(float64(m.left)+forecastSoft), math.Sqrt(0.3/(float64(m.left)+0.1))
		o := l.forward(d, m.in[:])
		var slopes [bowlOuts]float32
		for q, level := range forecastQuantiles {
			slopes[q] = float32(w * (sigmoid((float64(o[q])-y)/0.02) - level))
		}
		l.backward(d, slopes[:])
	})
	return l
}
