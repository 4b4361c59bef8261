package peak

// path keeps the curve of the running feed in constant memory: a point every
// few minutes, and when the space is full every second point is given up and
// the distance doubled.
type path struct {
	n     int
	every float64 // hours between points
	next  float64 // hours since the feed at which the next point is due
	t     [pathCap]float32
	warm  [pathCap]float32
	h     [pathCap]float32 // rise, mm
}

const (
	pathCap   = 256
	pathEvery = 4.0 / 60
)

func (p *path) reset() { p.n, p.every, p.next = 0, pathEvery, 0 }

// add offers the curve's state at t hours since the feed.
func (p *path) add(t, warm, rise float64) {
	if t < p.next {
		return
	}
	if p.n == pathCap {
		p.halve()
	}
	p.t[p.n], p.warm[p.n], p.h[p.n] = float32(t), float32(warm), float32(rise)
	p.n++
	p.next = t + p.every*0.999
}

func (p *path) halve() {
	for i := 0; i < pathCap/2; i++ {
		p.t[i], p.warm[i], p.h[i] = p.t[2*i], p.warm[2*i], p.h[2*i]
	}
	p.n = pathCap / 2
	p.every *= 2
}

// riseAt returns the rise at t hours since the feed.
func (p *path) riseAt(t float64) float64 { return lookUp(p.t[:p.n], p.h[:p.n], t) }

// crossings fills out with the warm hours at which the rise first reached
// each of the given levels (ascending); a level not reached gets the last.
func (p *path) crossings(levels []float64, out []float64) {
	i := 0
	for k, level := range levels {
		for i < p.n-1 && float64(p.h[i]) < level {
			i++
		}
		if p.n == 0 {
			out[k] = 0
			continue
		}
		w := float64(p.warm[i])
		if i > 0 && float64(p.h[i]) >= level {
			if d := float64(p.h[i] - p.h[i-1]); d > 0 {
				f := min(max((level-float64(p.h[i-1]))/d, 0), 1)
				w = float64(p.warm[i-1]) + f*float64(p.warm[i]-p.warm[i-1])
			}
		}
		out[k] = w
	}
}

// warmAt returns the warm hours at t hours since the feed.
func (p *path) warmAt(t float64) float64 { return lookUp(p.t[:p.n], p.warm[:p.n], t) }

// riseAtWarm returns the rise at a number of warm hours since the feed.
func (p *path) riseAtWarm(w float64) float64 { return lookUp(p.warm[:p.n], p.h[:p.n], w) }

// lookUp interpolates y over ascending x and holds the ends.
func lookUp(x, y []float32, at float64) float64 {
	n := len(x)
	if n == 0 {
		return 0
	}
	v := float32(at)
	if v <= x[0] {
		return float64(y[0])
	}
	if v >= x[n-1] {
		return float64(y[n-1])
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		if m := (lo + hi) / 2; x[m] <= v {
			lo = m
		} else {
			hi = m
		}
	}
	f := float64(v-x[lo]) / max(float64(x[hi]-x[lo]), 1e-9)
	return float64(y[lo]) + f*float64(y[hi]-y[lo])
}
