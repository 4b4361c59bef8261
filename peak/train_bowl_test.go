package peak

import (
	"math"
	"math/rand/v2"
	"slices"

	"leavend/peak/growth"
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
	d.watchAhead = func(d *Detector, _ *[3]float64) {
		now := d.trend.now - d.feed.at
		if n++; n%4 != 0 || now > b.at+0.1 {
			return
		}
		m := target{left: float32(max(b.at-now, 0) / (max(d.thermal.hours, 0.1) / growth.Pace(d.thermal.tempC)))}
		bowlFeatures(&d.curve, &m.in)
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

// bowlKinds are the kinds of curves that a dough may follow, to learn from.
var bowlKinds = []family{families[0], families[1], families[6], families[7], growthFamilies[0], growthFamilies[1], growthFamilies[3]}

// gatherBowls draws doughs: n of each kind, and as many of the kitchen as of all
// of them.
func gatherBowls(kinds []family, n int, seed uint64) (all []target) {
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

// chooseBowlWidths sets the factors of the interval's halves so that a tenth of
// the targets lies beyond each end.
func chooseBowlWidths(l *learner, all []target, m *model) {
	d := l.newDesk()
	var low, high []float64
	for i := range all {
		if all[i].left == 0 {
			continue
		}
		o, y := l.forward(d, all[i].in[:]), math.Log(float64(all[i].left)+forecastSoft)
		q := [3]float64{float64(o[0]), float64(o[1]), float64(o[2])}
		slices.Sort(q[:])
		low, high = append(low, (q[1]-y)/max(q[1]-q[0], 0.02)), append(high, (y-q[1])/max(q[2]-q[1], 0.02))
	}
	m.limits[limitBowl] = float32(max(percentile(low, 90), 0.5))
	m.limits[limitBowl+1] = float32(max(percentile(high, 90), 0.5))
}
