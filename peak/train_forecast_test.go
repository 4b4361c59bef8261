package peak

import (
	"math"
	"sort"
)

// learnForecast makes the network of the forecast: quantiles of the logarithm
// of what is left, and of what is still to rise. Each feed counts alike,
// however long it takes; a stage of the way counts as stageWeight says.
func learnForecast(rides []ride, seed uint64, epochs int, weight func(*moment) float64) *learner {
	var all []*moment
	for i := range rides {
		for j := range rides[i].moments {
			all = append(all, &rides[i].moments[j])
		}
	}
	l := newLearner(seed, decodeModel(nil).forecast, 0)
	l.study(seed, len(all), epochs, 256, 4e-3, func(d *desk, i int, _ float64) {
		m := all[i]
		w := weight(m)
		y := math.Log(float64(m.left) + forecastSoft)
		o := l.forward(d, m.in[:])
		var slopes [forecastOuts]float32
		for q, level := range forecastQuantiles {
			slopes[q] = float32(w * (sigmoid((float64(o[q])-y)/0.02) - level))
		}
		slopes[forecastMore] = float32(0.5 * w * (sigmoid((float64(o[forecastMore]-m.more))/0.02) - 0.5))
		l.backward(d, slopes[:])
	})
	return l
}

// stageWeight lets a moment count by the stage of the way: most around the
// later half, where bakers begin to look.
func stageWeight(m *moment) float64 {
	w := 6 / max(float64(m.norm), 1)
	if m.left == 0 {
		return 0.3 * w
	}
	z := (float64(m.way) - 0.7) / 0.25
	return w * (0.5 + 1.5*math.Exp(-z*z/2))
}

// ahead is what a network forecast of a moment.
type ahead struct {
	q    [3]float64
	y    float64
	way  float64
	norm float64 // hours from feed to peak
	per  float64 // hours to the peak for one of left
}

func (l *learner) lookAhead(rides []ride) []ahead {
	parts := make([][]ahead, len(rides))
	inParallel(len(rides), func(i int) {
		d := l.newDesk()
		for j := range rides[i].moments {
			m := &rides[i].moments[j]
			if m.left == 0 {
				continue
			}
			o := l.forward(d, m.in[:])
			a := ahead{y: math.Log(float64(m.left) + forecastSoft), way: float64(m.way), norm: float64(m.norm)}
			a.q = [3]float64{float64(o[0]), float64(o[1]), float64(o[2])}
			a.per = (1 - a.way) * a.norm / float64(m.left)
			sort3(&a.q)
			parts[i] = append(parts[i], a)
		}
	})
	var all []ahead
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// chooseWidths sets the factors of the interval's halves at each stage that
// the forecast itself sees, so that a tenth of the peaks lies beyond each end
// on these rides, each stage of the true way counting alike.
func chooseWidths(all []ahead, limits []float32) {
	const beyond = 0.1
	for side := range 2 {
		for s := range widenStages {
			type need struct{ factor, w float64 }
			var needs []need
			total := 0.0
			for _, a := range all {
				i, f := widenAt(a.q[1])
				near := 1 - math.Abs(float64(i)+f-float64(s))
				if near <= 0 || a.way < 0.2 {
					continue
				}
				n := need{w: near}
				if side == 0 {
					n.factor = (a.q[1] - a.y) / max(a.q[1]-a.q[0], 0.02)
				} else {
					n.factor = (a.y - a.q[1]) / max(a.q[2]-a.q[1], 0.02)
				}
				needs, total = append(needs, n), total+n.w
			}
			sort.Slice(needs, func(i, j int) bool { return needs[i].factor > needs[j].factor })
			sum, factor := 0.0, 1.0
			for _, n := range needs {
				if sum += n.w; sum >= beyond*total {
					factor = n.factor
					break
				}
			}
			limits[limitLow+side*widenStages+s] = float32(min(max(factor, 0.5), 4))
		}
	}
}
