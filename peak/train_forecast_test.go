package peak

import (
	"math"
	"sort"
)

// learnForecast makes the network of the forecast: quantiles of the logarithm
// of what is left, and of what is still to rise. Each feed counts alike,
// however long it takes; a stage of the way counts as stageWeight says.
func learnForecast(rides []ride, seed uint64, epochs int, weight stageWeight) *learner {
	var all []*moment
	for i := range rides {
		for j := range rides[i].moments {
			all = append(all, &rides[i].moments[j])
		}
	}
	l := newLearner(seed, decodeModel(nil).forecast, 0)
	l.study(seed, len(all), epochs, 256, 4e-3, func(d *desk, i int, _ float64) {
		m := all[i]
		w := weight.of(m)
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
type stageWeight struct{ centre, wide, floor float64 }

func (s stageWeight) of(m *moment) float64 {
	w := 6 / max(float64(m.norm), 1)
	if m.left == 0 {
		return 0.3 * w
	}
	z := (float64(m.way) - s.centre) / s.wide
	return w * (s.floor + 1.5*math.Exp(-z*z/2))
}

// stageWeights are tried; the one that does best on the rides to choose by is
// kept.
var stageWeights = []stageWeight{{0.72, 0.22, 0.3}, {0.78, 0.25, 0.4}}

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

// missesAt are how far off the forecasts are at a stage of the way, in
// minutes, and the share of intervals that hold the peak.
func missesAt(all []ahead, share float64) (median, p90, held float64) {
	var off []float64
	n := 0.0
	for _, a := range all {
		if math.Abs(a.way-share) > 0.04 {
			continue
		}
		hours := func(y float64) float64 { return max(math.Exp(y)-forecastSoft, 0) * a.per }
		off = append(off, 60*math.Abs(hours(a.q[1])-hours(a.y)))
		if a.q[0] <= a.y && a.y <= a.q[2] {
			n++
		}
	}
	return percentile(off, 50), percentile(off, 90), 100 * n / float64(len(off))
}

// merit is what the choice of a forecast goes by: minutes off at 62, 80 and
// 97 % of the way, medians and a part of the tails. Less is better.
func merit(all []ahead) float64 {
	m62, t62, _ := missesAt(all, 0.62)
	m80, t80, _ := missesAt(all, 0.8)
	m97, _, _ := missesAt(all, 0.97)
	return m62 + m80 + 0.5*m97 + 0.25*(t62+t80)
}

// widened returns forecasts with their intervals drawn to their width.
func widened(all []ahead, m *model) []ahead {
	out := append([]ahead(nil), all...)
	for i := range out {
		m.widen(&out[i].q)
	}
	return out
}

// chooseWidths sets the factors of the interval's halves at each stage that
// the forecast itself sees, so that a tenth of the peaks lies beyond each end;
// then draws all of them together until the interval holds as it should at the
func chooseWidths(all []ahead, m *model) {
	for side := range 2 {
		for s := range widenStages {
			m.limits[limitLow+side*widenStages+s] = float32(min(max(needed(all, side, s), 0.5), 4))
		}
	}
	// Then step by step towards what the interval is to hold at each stage of the
	// true way, which the forecast cannot see.
	off := heldOff(all, m)
	for by := float32(1.2); by > 1.01; by = 1 + (by-1)*0.6 {
		for i := limitLow; i < limitLow+2*widenStages; i++ {
			for _, factor := range [...]float32{by, 1 / by} {
				was := m.limits[i]
				m.limits[i] = min(max(was*factor, 0.4), 5)
				if now := heldOff(all, m); now < off {
					off = now
				} else {
					m.limits[i] = was
				}
			}
		}
	}
}

// heldOff is how far the shares of intervals that hold the peak are from what
// they should be, and a little for how wide they are.
func heldOff(all []ahead, m *model) float64 {
	var off, wide float64
	w := widened(all, m)
	for _, s := range [...]struct{ way, counts float64 }{{0.3, 1}, {0.5, 1}, {0.62, 1}, {0.8, 1}, {0.9, 0.7}, {0.97, 0.4}} {
		in, n := 0.0, 0.0
		for i := range w {
			if a := &w[i]; math.Abs(a.way-s.way) < 0.04 {
				if n++; a.q[0] <= a.y && a.y <= a.q[2] {
					in++
				}
			}
		}
		held := 100 * in / n
		off += s.counts * (held - heldTarget) * (held - heldTarget)
	}
	for i := range w {
		wide += (w[i].q[2] - w[i].q[0]) / float64(len(w))
	}
	return off + 10*wide
}

// heldTarget is the share of intervals in percent that are to hold the peak.
const heldTarget = 81

// needed returns the factor of a half of the interval beyond which a tenth of
// the peaks lies, around one of the stages.
func needed(all []ahead, side, stage int) float64 {
	type need struct{ factor, w float64 }
	var needs []need
	total := 0.0
	for _, a := range all {
		i, f := widenAt(a.q[1])
		near := 1 - math.Abs(float64(i)+f-float64(stage))
		if near <= 0 || a.way < 0.2 {
			continue
		}
		n := need{w: near, factor: (a.y - a.q[1]) / max(a.q[2]-a.q[1], 0.02)}
		if side == 0 {
			n.factor = (a.q[1] - a.y) / max(a.q[1]-a.q[0], 0.02)
		}
		needs, total = append(needs, n), total+n.w
	}
	sort.Slice(needs, func(i, j int) bool { return needs[i].factor > needs[j].factor })
	sum := 0.0
	for _, n := range needs {
		if sum += n.w; sum >= 0.1*total {
			return n.factor
		}
	}
	return 1
}
