// Package quadratic fits parabolas by least squares.
package quadratic

import "math"

// Fit gathers a weighted least-squares fit y = a + b·x + c·x² on irregular
// samples; the zero value is empty. On a regular grid its middle value and slope
// are the Savitzky-Golay filters.
type Fit struct {
	s [5]float64 // Σw·x^k
	b [3]float64 // Σw·x^k·y
}

// Add takes in a sample of weight w.
func (q *Fit) Add(x, y, w float64) {
	p := w
	for k := range q.s {
		q.s[k] += p
		if k < 3 {
			q.b[k] += p * y
		}
		p *= x
	}
}

// Solve returns the coefficients; false when the samples do not fix them.
func (q *Fit) Solve() (a, b, c float64, ok bool) {
	s, y := &q.s, &q.b
	d0 := s[2]*s[4] - s[3]*s[3]
	d1 := s[1]*s[4] - s[2]*s[3]
	d2 := s[1]*s[3] - s[2]*s[2]
	det := s[0]*d0 - s[1]*d1 + s[2]*d2
	if math.Abs(det) < 1e-12*math.Abs(s[0]*s[2]*s[4]) || det == 0 {
		return 0, 0, 0, false
	}
	e0 := s[0]*s[4] - s[2]*s[2]
	e1 := s[0]*s[3] - s[1]*s[2]
	f0 := s[0]*s[2] - s[1]*s[1]
	a = (y[0]*d0 - y[1]*d1 + y[2]*d2) / det
	b = (-y[0]*d1 + y[1]*e0 - y[2]*e1) / det
	c = (y[0]*d2 - y[1]*e1 + y[2]*f0) / det
	return a, b, c, true
}
