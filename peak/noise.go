package peak

import "math"

// Wanders reports whether the sensor wanders too much for a sharp call.
func (s *Status) Wanders() bool { return s.WanderMM > 0.65 }

// wanderHours is how long the wander of a still VL53L0X remembers itself (see
// sim.MeasuredWander). What wanders more quickly is averaged away, what wanders
// more slowly cannot be told from the curve.
const wanderHours = 7.5 / 60

// wanderKeep is the share of a wander that is left after dt hours.
func wanderKeep(dt float64) float64 { return math.Exp(-dt / wanderHours) }

// noise estimates a sensor's noise online: the white part from the scatter
// within a minute, the wander by asking under which of several sizes a steady
// and a rough curve would have predicted the minutes best.
type noise struct {
	white   float64 // variance of one reading
	weight  float64
	perBin  float64 // mean readings a bin
	step    float64 // the sensor's smallest step, mm; 0 where none was seen
	lastY   float64 // a reading of the last minute, for the step
	wander  float64 // variance
	filters [len(wanderSizes) * len(wanderRough)]track
	begun   bool
	at      float64 // hours of the last minute
	last    [2]float64
	lasts   int
}

// wanderSizes are the sizes that are compared, mm; wanderRough how rough a
// curve each of them is tried on, (mm/h²)²/h.
var (
	wanderSizes = [...]float64{0.05, 0.3, 0.6, 1.1, 2, 3.5}
	wanderPrior = [...]float64{0.3, 0.2, 0.15, 0.2, 0.1, 0.05}
	wanderRough = [...]float64{5, 200}
)

const (
	noisePriorMM = 1.2   // typical of the short-range laser chips: a guess
	noiseForget  = 600   // readings remembered
	wanderForget = 0.998 // of the evidence on the wander, a minute: about eight hours
)

// reset forgets what the last feed has shown.
func (n *noise) reset() {
	*n = noise{white: noisePriorMM * noisePriorMM, weight: 30, perBin: 4}
	for i := range n.filters {
		n.filters[i].logW = math.Log(wanderPrior[i/len(wanderRough)])
	}
	n.weigh()
}

// weigh turns the evidence into the variance of the wander.
func (n *noise) weigh() {
	best, sum, v := math.Inf(-1), 0.0, 0.0
	for i := range n.filters {
		best = max(best, n.filters[i].logW)
	}
	for i := range n.filters {
		w := math.Exp(n.filters[i].logW - best)
		sum += w
		v += w * math.Log(wanderSizes[i/len(wanderRough)])
	}
	size := math.Exp(v / sum)
	n.wander = size * size
}

// see takes in one minute at t hours: the mean of its inliers, their count and
// their variance.
func (n *noise) see(t, mean float64, count int, variance float64) {
	if count > 1 {
		n.weight = min(n.weight+float64(count-1), noiseForget)
		n.white += (variance - n.white) * float64(count-1) / n.weight
	} else {
		n.seeSingle(mean)
	}
	n.perBin += (float64(count) - n.perBin) / 30
	r := n.ofBin(count)
	dt := t - n.at
	n.at = t
	keep := wanderKeep(dt)
	for i := range n.filters {
		f := &n.filters[i]
		size := wanderSizes[i/len(wanderRough)]
		if !n.begun {
			logW := f.logW
			f.qAccel = wanderRough[i%len(wanderRough)]
			f.begin(mean, r, size*size)
			f.logW = logW
			continue
		}
		f.predict(dt, keep, size*size)
		f.logW = wanderForget*f.logW + max(f.update(mean, r), -12)
	}
	n.begun = true
	n.weigh()
}

// seeSingle learns the white noise where a minute has one reading only: from
// the bend of three neighbours, to which a curve and its wander add little.
func (n *noise) seeSingle(y float64) {
	if n.lasts >= 2 {
		d := n.last[0] - 2*n.last[1] + y
		n.weight = min(n.weight+0.5, noiseForget)
		n.white += (min(d*d/6, 9*n.white) - n.white) * 0.5 / n.weight
	}
	n.last[0], n.last[1] = n.last[1], y
	n.lasts++
}

// seeStep learns the sensor's step from a minute's sorted readings: all
// differences are multiples of it.
func (n *noise) seeStep(y []float64) {
	last := n.lastY
	for _, v := range y {
		if gap := math.Abs(v - last); gap > 1e-3 && (n.step == 0 || gap < n.step) && last != 0 {
			n.step = gap
		}
		last = v
	}
	n.lastY = y[0]
}

// stepVariance is what rounding to steps leaves in the mean of any number of
// readings: white noise of σ takes it off by exp(-4π²σ²/step²), as for any
// dithered quantiser.
func (n *noise) stepVariance() float64 {
	q := n.step * n.step
	if q == 0 {
		return 0
	}
	sigma2 := max(n.white-q/12, 0)
	return q / (2 * math.Pi * math.Pi) * math.Exp(-4*math.Pi*math.Pi*sigma2/q)
}

// breakOff says that the next minute does not go on from the last: after a gap
// or a step of the level.
func (n *noise) breakOff() { n.begun, n.lasts = false, 0 }

// ofReading returns the standard deviation of one reading, never below what
// rounding leaves.
func (n *noise) ofReading() float64 { return math.Sqrt(max(n.white, n.step*n.step/12, 0.02)) }

// ofBin returns the variance of a mean of count readings without the wander.
func (n *noise) ofBin(count int) float64 {
	return max(max(n.white, n.step*n.step/12)/float64(max(count, 1))+n.stepVariance(), 0.01)
}

// ofMinute returns the whole variance of a usual minute: white and wander.
func (n *noise) ofMinute() float64 { return n.ofBin(int(n.perBin+0.5)) + n.wander }
