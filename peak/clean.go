package peak

import "math"

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
	insertionSort(y)
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
	if 2*n < len(y) { // they do not agree: nobody is right
		return med, 0, 0
	}
	m := s / float64(n)
	if n > 1 {
		variance = max((s2-s*m)/float64(n-1), 0)
	}
	return med + m, n, variance
}

func insertionSort(y []float64) {
	for i := 1; i < len(y); i++ {
		v, j := y[i], i
		for j > 0 && y[j-1] > v {
			y[j] = y[j-1]
			j--
		}
		y[j] = v
	}
}

// noise estimates what a reading is worth, online: the scatter within a
// minute, and the scatter of neighbouring minutes beyond that, which shows
// noise that hangs together (foam, a warm-up drift of the sensor).
type noise struct {
	within  float64 // variance of one reading
	weight  float64
	between float64 // variance of a minute's mean as its neighbours show it
	bWeight float64
	block   [3]float64 // means of the last blocks of blockBins minutes
	blocks  int
	sum     float64
	count   int
	perBin  float64 // mean readings a bin
}

const (
	blockBins    = 4
	noisePriorMM = 1.2 // typical of the short-range laser chips: a guess
	noiseForget  = 600 // readings remembered; bins remembered are a tenth
)

func (n *noise) reset() {
	*n = noise{within: noisePriorMM * noisePriorMM, weight: 30, perBin: 4}
}

// see takes in one bin's inliers.
func (n *noise) see(mean float64, count int, variance float64) {
	if count > 1 {
		n.weight = min(n.weight+float64(count-1), noiseForget)
		n.within += (variance - n.within) * float64(count-1) / n.weight
	}
	n.perBin += (float64(count) - n.perBin) / 30
	n.sum += mean
	n.count++
	if n.count < blockBins {
		return
	}
	b := n.sum / float64(n.count)
	n.sum, n.count = 0, 0
	if n.blocks >= 2 {
		d := n.block[1] - 2*n.block[2] + b
		v := d * d / 6 * blockBins
		if n.bWeight == 0 {
			n.between = n.within / max(n.perBin, 1)
			n.bWeight = 6
		}
		v = min(v, 9*n.between+0.2) // a kink is no noise
		n.bWeight = min(n.bWeight+1, 45)
		n.between += (v - n.between) / n.bWeight
	}
	n.block[0], n.block[1], n.block[2] = n.block[1], n.block[2], b
	n.blocks++
}

// breakBlocks forgets the running blocks, after a gap or a step.
func (n *noise) breakBlocks() { n.blocks, n.count, n.sum = 0, 0, 0 }

// ofReading returns the standard deviation of one reading, never below what
// rounding to whole millimetres leaves.
func (n *noise) ofReading() float64 { return math.Sqrt(max(n.within, 1.0/12)) }

// ofBin returns the variance of a mean of count readings.
func (n *noise) ofBin(count int) float64 {
	v := max(n.within, 1.0/12) / float64(max(count, 1))
	return max(v, n.between*max(1, n.perBin)/float64(max(count, 1))*0.5+n.between*0.5, 0.04)
}
