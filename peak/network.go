package peak

import "math"

// network is a small one of two hidden layers with tanh. Its weights stand
// layer by layer, and for each neuron its bias before its inputs.
type network struct {
	shape   [4]int // inputs, the two hidden layers, outputs
	weights []float32
}

// hiddenMost is the width of the widest hidden layer.
const hiddenMost = 16

// size is how many weights a network of that shape has.
func (n network) size() int {
	s := n.shape
	return s[1]*(s[0]+1) + s[2]*(s[1]+1) + s[3]*(s[2]+1)
}

// run computes the outputs; it allocates nothing.
func (n network) run(in, out []float32) {
	var a, b [hiddenMost]float32
	w := layer(n.weights, in, a[:n.shape[1]], true)
	w = layer(w, a[:n.shape[1]], b[:n.shape[2]], true)
	layer(w, b[:n.shape[2]], out, false)
}

// layer runs one layer and returns the weights behind it.
func layer(w, in, out []float32, bend bool) []float32 {
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
