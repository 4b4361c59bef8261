package peak

import (
	"math"
	"slices"
)

const (
	binHours = 1.0 / 60 // one bin of readings
	binCap   = 64       // readings kept of one bin; a faster sensor's later ones are dropped
)

// bin gathers the readings of one minute.
type bin struct {
	index int64
	n     int
	y     [binCap]float64 // heights relative to the level, mm
	t     float64         // sum of times, hours since the origin
	tempN int
	temp  float64 // sum of °C
}

// minuteOf numbers the minutes from the feed on, so that a detector that is
// rebuilt from the readings since the feed sees the same minutes.
func minuteOf(sinceFeed float64) int64 { return int64(math.Floor((sinceFeed + 1e-9) / binHours)) }

// addTemp gathers a plausible temperature.
func (b *bin) addTemp(tempC float64) {
	if !(tempC > -20 && tempC < 60) || b.tempN > 0 && math.Abs(tempC-b.temp/float64(b.tempN)) > 4 {
		return
	}
	b.temp += tempC
	b.tempN++
}

// tempC is the minute's mean temperature, NaN when none came.
func (b *bin) tempC() float64 {
	if b.tempN == 0 {
		return math.NaN()
	}
	return b.temp / float64(b.tempN)
}

func (b *bin) reset(index int64) { b.index, b.n, b.t, b.tempN, b.temp = index, 0, 0, 0, 0 }

func (b *bin) add(t, y float64) {
	if b.n < binCap {
		b.y[b.n] = y
		b.n++
		b.t += t
	}
}

// centre returns the mean of the readings that agree with their median, how
// many they are, and their variance around the mean (0 for fewer than 2).
func (b *bin) centre(noise float64) (mean float64, n int, variance float64) {
	if b.n == 0 {
		return math.NaN(), 0, 0
	}
	y := b.y[:b.n]
	slices.Sort(y)
	med := y[len(y)/2]
	if len(y)%2 == 0 {
		med = (med + y[len(y)/2-1]) / 2
	}
	gate := max(4*noise, 2.5)
	var s, s2 float64
	for _, v := range y {
		if d := v - med; math.Abs(d) <= gate {
			s += d
			s2 += d * d
			n++
		}
	}
	if 2*n < len(y) { // they do not agree, so none is right
		return med, 0, 0
	}
	m := s / float64(n)
	if n > 1 {
		variance = max((s2-s*m)/float64(n-1), 0)
	}
	return med + m, n, variance
}
