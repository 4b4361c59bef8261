package sim

import "math"

// matrix is a small dense square or oblong matrix, row by row.
type matrix struct {
	rows, cols int
	v          []float64
}

func newMatrix(rows, cols int) matrix {
	return matrix{rows, cols, make([]float64, rows*cols)}
}

func (m matrix) at(i, j int) *float64 { return &m.v[i*m.cols+j] }

func (m matrix) times(b matrix) matrix {
	out := newMatrix(m.rows, b.cols)
	for i := range m.rows {
		for k := range m.cols {
			a := m.v[i*m.cols+k]
			if a == 0 {
				continue
			}
			for j := range b.cols {
				out.v[i*b.cols+j] += a * b.v[k*b.cols+j]
			}
		}
	}
	return out
}

// exp is the matrix exponential of a square matrix: a Taylor series of the
// matrix halved until it is small, then squared as often.
func (m matrix) exp() matrix {
	norm := 0.0
	for i := range m.rows {
		sum := 0.0
		for j := range m.cols {
			sum += math.Abs(*m.at(i, j))
		}
		norm = math.Max(norm, sum)
	}
	halvings := 0
	for ; norm > 0.25; halvings++ {
		norm /= 2
	}
	scale := math.Ldexp(1, -halvings)
	small := newMatrix(m.rows, m.cols)
	for i, v := range m.v {
		small.v[i] = v * scale
	}
	sum, term := newMatrix(m.rows, m.cols), newMatrix(m.rows, m.cols)
	for i := range m.rows {
		*sum.at(i, i), *term.at(i, i) = 1, 1
	}
	// 0.25^14/14! is below 1e-19: the series ends in rounding.
	for k := 1; k <= 14; k++ {
		term = term.times(small)
		for i := range term.v {
			term.v[i] /= float64(k)
			sum.v[i] += term.v[i]
		}
	}
	for range halvings {
		sum = sum.times(sum)
	}
	return sum
}

// solve returns x with m·x = b by elimination with partial pivoting, and
// false when m is singular.
func (m matrix) solve(b []float64) ([]float64, bool) {
	n := m.rows
	a := append([]float64(nil), m.v...)
	x := append([]float64(nil), b...)
	for c := range n {
		best := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r*n+c]) > math.Abs(a[best*n+c]) {
				best = r
			}
		}
		if math.Abs(a[best*n+c]) < 1e-14 {
			return nil, false
		}
		for j := range n {
			a[c*n+j], a[best*n+j] = a[best*n+j], a[c*n+j]
		}
		x[c], x[best] = x[best], x[c]
		for r := c + 1; r < n; r++ {
			f := a[r*n+c] / a[c*n+c]
			for j := c; j < n; j++ {
				a[r*n+j] -= f * a[c*n+j]
			}
			x[r] -= f * x[c]
		}
	}
	for c := n - 1; c >= 0; c-- {
		for j := c + 1; j < n; j++ {
			x[c] -= a[c*n+j] * x[j]
		}
		x[c] /= a[c*n+c]
	}
	return x, true
}
