// Package network runs small neural networks without allocation.
package network

import "math"

// Network has two hidden layers with tanh. Its weights stand layer by layer,
// and for each neuron its bias before its inputs.
type Network struct {
	Shape   [4]int // inputs, the two hidden layers of at most 16 neurons, outputs
	Weights []float32
}

// hiddenMost is the width of the widest hidden layer.
const hiddenMost = 16

// Size is how many weights a network of that shape has.
func (n Network) Size() int {
	s := n.Shape
	return s[1]*(s[0]+1) + s[2]*(s[1]+1) + s[3]*(s[2]+1)
}

// Run computes the outputs; it allocates nothing.
func (n Network) Run(in, out []float32) {
	var a, b [hiddenMost]float32
	w := layer(n.Weights, in, a[:n.Shape[1]], true)
	w = layer(w, a[:n.Shape[1]], b[:n.Shape[2]], true)
	layer(w, b[:n.Shape[2]], out, false)
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
