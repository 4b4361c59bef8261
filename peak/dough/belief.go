package dough

import "math"

// belief is what the past doughs tell of the next, as mean and standard
// deviation of the logarithm of how many times the word it takes. The whim is
// learnt on the way: a few rounds settle how odd each dough is and how large the
// whim of all.
func (m *Model) belief(next sign) (mean, sd float64) {
	n := len(m.past)
	odd, whim := make([]float64, n), whimSD*whimSD // how many times the whim's variance a dough has
	for i := range odd {
		odd[i] = 1
	}
	var f factor
	for range 4 {
		f = m.factor(odd, whim)
		learnt, count := whimDF*whimSD*whimSD, whimDF+float64(n)
		pull := f.solve(m.offs)
		for i := range odd {
			own := whim * odd[i]
			left := own * pull[i] // of what it took, what the others do not explain
			spread := left*left + own - own*own*f.inverseAt(i)
			weight := min(1, (oddFrom+1)/(oddFrom+spread/whim))
			odd[i] = 1 / weight
			learnt += weight * spread
		}
		whim = learnt / count
	}
	f = m.factor(odd, whim)
	k := make([]float64, n)
	for i := range k {
		k[i] = covariance(next, m.past[i])
	}
	pull, known := f.solve(m.offs), f.solve(k)
	variance := covariance(next, next)
	for i := range k {
		mean += k[i] * pull[i]
		variance -= k[i] * known[i]
	}
	return mean, math.Hypot(math.Sqrt(max(variance, 0)), math.Sqrt(whim)*(1+widenByDF/(whimDF+float64(n))))
}

// factor is the lower triangle L of a covariance matrix L·Lᵀ (Cholesky).
type factor [][]float64

// factor splits the covariance of the past doughs, each with its whim.
func (m *Model) factor(odd []float64, whim float64) factor {
	f := make(factor, len(m.past))
	for i := range f {
		f[i] = make([]float64, i+1)
		for j := range f[i] {
			sum := covariance(m.past[i], m.past[j])
			if i == j {
				sum += whim * odd[i]
			}
			for k := range j {
				sum -= f[i][k] * f[j][k]
			}
			if i == j {
				f[i][i] = math.Sqrt(max(sum, 1e-9))
			} else {
				f[i][j] = sum / f[j][j]
			}
		}
	}
	return f
}

// solve returns the x of which the matrix makes b.
func (f factor) solve(b []float64) []float64 {
	x := make([]float64, len(f))
	for i := range f {
		x[i] = b[i]
		for k := range i {
			x[i] -= f[i][k] * x[k]
		}
		x[i] /= f[i][i]
	}
	for i := len(f) - 1; i >= 0; i-- {
		for k := i + 1; k < len(f); k++ {
			x[i] -= f[k][i] * x[k]
		}
		x[i] /= f[i][i]
	}
	return x
}

// inverseAt is an entry of the inverse's diagonal.
func (f factor) inverseAt(i int) float64 {
	e := make([]float64, len(f))
	e[i] = 1
	return f.solve(e)[i]
}
