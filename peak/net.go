package peak

import "math"

// Small networks of hidden layers with tanh turn what is seen of a curve into
// a few numbers. These are their inner loops.

// layer runs one layer and returns the weights behind it.
func layer(w []float32, in, out []float32, bend bool) []float32 {
	stride := len(in) + 1
	for j := range out {
		row := w[j*stride : (j+1)*stride]
		s := row[0] + dot(row[1:], in)
		if bend {
			s = float32(math.Tanh(float64(s)))
		}
		out[j] = s
	}
	return w[len(out)*stride:]
}

// dot is the inner product of w's first len(x) numbers and x. Four sums side
// by side keep the processor busy, for one would wait for itself.
func dot(w, x []float32) float32 {
	var a, b, c, d float32
	w = w[:len(x)]
	i := 0
	for ; i+4 <= len(x); i += 4 {
		a += w[i] * x[i]
		b += w[i+1] * x[i+1]
		c += w[i+2] * x[i+2]
		d += w[i+3] * x[i+3]
	}
	for ; i < len(x); i++ {
		a += w[i] * x[i]
	}
	return a + b + c + d
}
