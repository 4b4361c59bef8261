package peak

import "math"

// FitCurve fits the parameters of a model to points by least squares, with
// the method of Levenberg and Marquardt. It starts from start and returns the
// parameters, the residual sum of squares, and whether it came to rest. At
// most 8 parameters are fitted.
func FitCurve(model func(p []float64, x float64) float64, x, y, start []float64) (p []float64, rss float64, ok bool) {
	n := len(start)
	p = append([]float64(nil), start...)
	if n == 0 || n > fitMost || len(x) != len(y) || len(x) < n {
		return p, math.NaN(), false
	}
	f := fitter{model: model, x: x, y: y, lambda: 1e-3}
	rss = f.rss(p)
	for range 500 {
		next, nextRSS, moved := f.step(p, rss)
		if !moved {
			return p, rss, !math.IsNaN(rss)
		}
		still := rss-nextRSS <= 1e-15*rss
		p, rss = next, nextRSS
		if still {
			return p, rss, true
		}
	}
	return p, rss, false
}

const fitMost = 8

type fitter struct {
	model  func(p []float64, x float64) float64
	x, y   []float64
	lambda float64
}

func (f *fitter) rss(p []float64) float64 {
	s := 0.0
	for i := range f.x {
		e := f.y[i] - f.model(p, f.x[i])
		s += e * e
	}
	return s
}

// step tries steps of growing caution until one lowers the sum of squares.
func (f *fitter) step(p []float64, rss float64) (next []float64, nextRSS float64, moved bool) {
	a, g := f.normal(p)
	for range 60 {
		d, ok := solveDamped(a, g, f.lambda)
		if ok {
			next = make([]float64, len(p))
			k := shorten(p, d)
			for i := range p {
				next[i] = p[i] + k*d[i]
			}
			if nextRSS = f.rss(next); nextRSS < rss {
				f.lambda = max(f.lambda/8, 1e-14)
				return next, nextRSS, true
			}
		}
		f.lambda *= 4
		if f.lambda > 1e14 {
			break
		}
	}
	return p, rss, false
}

// shorten returns the share of a step that changes no parameter by more than
// a third of itself: from a poor start the first step may point anywhere.
func shorten(p, d []float64) float64 {
	k := 1.0
	for i := range p {
		if most := max(math.Abs(p[i])/3, 1e-3); math.Abs(d[i])*k > most {
			k = most / math.Abs(d[i])
		}
	}
	return k
}

// normal returns the normal equations at p; the slopes are central
// differences.
func (f *fitter) normal(p []float64) (a [][]float64, g []float64) {
	n := len(p)
	a, g = make([][]float64, n), make([]float64, n)
	for i := range a {
		a[i] = make([]float64, n)
	}
	slope := make([]float64, n)
	q := append([]float64(nil), p...)
	for k := range f.x {
		for i := range p {
			h := 6e-6 * max(math.Abs(p[i]), 1e-3)
			q[i] = p[i] + h
			up := f.model(q, f.x[k])
			q[i] = p[i] - h
			slope[i] = (up - f.model(q, f.x[k])) / (2 * h)
			q[i] = p[i]
		}
		e := f.y[k] - f.model(p, f.x[k])
		for i := range p {
			g[i] += slope[i] * e
			for j := range p {
				a[i][j] += slope[i] * slope[j]
			}
		}
	}
	return a, g
}

// solveDamped solves (a + lambda·diag a)·d = g by elimination with pivots.
func solveDamped(a [][]float64, g []float64, lambda float64) ([]float64, bool) {
	n := len(g)
	m := make([][]float64, n)
	for i := range m {
		m[i] = append(append([]float64(nil), a[i]...), g[i])
		m[i][i] += lambda * a[i][i]
	}
	for c := range n {
		pivot := c
		for r := c + 1; r < n; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[pivot][c]) {
				pivot = r
			}
		}
		m[c], m[pivot] = m[pivot], m[c]
		if !(math.Abs(m[c][c]) > 0) {
			return nil, false
		}
		for r := c + 1; r < n; r++ {
			k := m[r][c] / m[c][c]
			for j := c; j <= n; j++ {
				m[r][j] -= k * m[c][j]
			}
		}
	}
	d := make([]float64, n)
	for r := n - 1; r >= 0; r-- {
		d[r] = m[r][n]
		for j := r + 1; j < n; j++ {
			d[r] -= m[r][j] * d[j]
		}
		d[r] /= m[r][r]
	}
	return d, true
}
