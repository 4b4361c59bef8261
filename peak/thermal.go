package peak

import (
	"math"

	"leavend/peak/growth"
)

// thermal follows the temperature: a smoothed value, the warm hours since the
// feed, and how much it usually moves, so that a jump stands out.
type thermal struct {
	tempC   float64 // smoothed; NaN before the first
	hours   float64 // warm hours since the feed
	at      float64 // clock hours up to which they are counted
	from    float64 // clock hours at the feed
	best    float64 // greatest pace since the feed, slowly forgotten
	ring    [warmRing]float64
	ringAt  [warmRing]float64
	ringN   int     // bins seen
	usual   float64 // usual change over ten minutes, °C
	usualN  int
	coldAt  float64 // clock hours at which it was last too cold to tell
	pending int     // bins that were far from the smoothed value in a row
}

// warmRing is how many minutes of temperature are kept.
const warmRing = 32

func (w *thermal) reset(now float64) {
	*w = thermal{tempC: w.tempC, at: now, from: now, coldAt: math.Inf(-1)}
}

// add takes in a minute's mean temperature (NaN when none came) at now.
func (w *thermal) add(now, tempC float64) {
	switch {
	case math.IsNaN(tempC):
	case math.IsNaN(w.tempC):
		w.tempC = tempC
	case math.Abs(tempC-w.tempC) < 2 || w.pending >= 3:
		w.tempC, w.pending = tempC, 0
	default:
		w.pending++ // a jump of degrees must hold for some minutes
	}
	p := growth.Pace(w.tempC)
	w.hours += (now - w.at) * p
	w.best = max(p, w.best*(1-0.005*(now-w.at)))
	w.at = now
	if math.IsNaN(w.tempC) {
		return
	}
	if w.ringN >= 12 {
		ten := w.ring[(w.ringN-10)%warmRing]
		w.usualN = min(w.usualN+1, 120)
		w.usual += (math.Abs(w.tempC-ten) - w.usual) / float64(w.usualN)
	}
	w.ring[w.ringN%warmRing], w.ringAt[w.ringN%warmRing] = w.tempC, now
	w.ringN++
}

// age is the time since the feed in hours at the present pace. After a night in
// the fridge it is what the jar has lived through, and not what the clock says.
func (w *thermal) age() float64 { return max(w.hours, 0.1) / growth.Pace(w.tempC) }

const (
	coldShare = 0.35 // below this share of its best pace a starter only waits
	thawHours = 0.75 // and it takes this long after the cold to find its pace
)

// cold reports whether the jar is, or was until recently, so much colder than
// before that a flat curve means nothing: it stands in the fridge, and its peak
// will come when it has been taken out and is warm again.
func (w *thermal) cold() bool {
	if math.IsNaN(w.tempC) || w.at-w.from < 0.5 {
		return false
	}
	if growth.Pace(w.tempC) < coldShare*w.best {
		w.coldAt = w.at
	}
	return w.at-w.coldAt < thawHours
}

// trend returns how fast the temperature has moved recently, in °C an hour over
// up to half an hour.
func (w *thermal) trend() float64 {
	n := min(w.ringN, warmRing)
	if n < 8 {
		return 0
	}
	var sx, sy, sxx, sxy float64
	now := w.at
	for i := w.ringN - n; i < w.ringN; i++ {
		x, y := w.ringAt[i%warmRing]-now, w.ring[i%warmRing]-w.tempC
		sx, sy, sxx, sxy = sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	k := float64(n)
	den := k*sxx - sx*sx
	if den < 1e-6 {
		return 0
	}
	return (k*sxy - sx*sy) / den
}

// before returns the temperature in the last minutes before the given hours.
func (w *thermal) before(hours float64) float64 {
	s, n := 0.0, 0
	for i := w.ringN - 1; i >= 0 && i > w.ringN-warmRing && n < 4; i-- {
		if w.ringAt[i%warmRing] < hours {
			s += w.ring[i%warmRing]
			n++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return s / float64(n)
}

// jump weighs how far the present temperature is from the one before an
// absence of some hours, in the balance of looksFed.
func (w *thermal) jump(before, away float64) float64 {
	if math.IsNaN(before) || w.ringN < 4 {
		return 0
	}
	s := 0.0
	for i := w.ringN - 4; i < w.ringN; i++ {
		s += w.ring[i%warmRing]
	}
	z := math.Abs(s/4-before) / max(0.1, 2.5*w.usual*(1+away*6))
	if z < 1 {
		return -0.5
	}
	return min(2*(z-1), 5)
}
