package peak

import "math"

// forecastQuantiles are what the network of the forecast is asked for.
var forecastQuantiles = [3]float64{0.1, 0.5, 0.9}

// learnForecast makes the network of the forecast: quantiles of the logarithm
// of what is left, and of what is still to rise. Each feed counts alike,
// however long it takes; a stage of the way counts as stageWeight says.
func learnForecast(rides []ride, seed uint64, epochs int) *learner {
	var all []*moment
	for i := range rides {
		for j := range rides[i].moments {
			if m := &rides[i].moments[j]; !m.alone {
				all = append(all, m)
			}
		}
	}
	l := newLearner(seed, decodeModel(nil).forecast, 0)
	l.study(seed, len(all), epochs, 256, 4e-3, func(d *desk, i int, _ float64) {
		m := all[i]
		w := stageWeight(m)
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
	z := (float64(m.way) - 0.72) / 0.22
	return w * (0.3 + 1.5*math.Exp(-z*z/2))
}
