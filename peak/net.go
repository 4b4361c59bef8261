package peak

import "math"

// net is a small network of two hidden layers with tanh: it turns signs into
// a few numbers. It holds what was learnt from invented curves of many
// families; see the package comment and train_test.go, which makes the
// weights again.
type net struct {
	outs    int
	weights []float32 // layer by layer; each neuron: its bias, then its inputs
}

const (
	netHidden1 = 40
	netHidden2 = 20
	netOutMax  = 8
)

// netSize returns the number of weights for a number of outputs.
func netSize(outs int) int {
	return netHidden1*(signCount+1) + netHidden2*(netHidden1+1) + outs*(netHidden2+1)
}

// run computes the outputs; it allocates nothing.
func (n net) run(in *signs, out *[netOutMax]float64) {
	var x [signCount]float32
	for i, v := range in {
		x[i] = float32(v)
	}
	var a [netHidden1]float32
	var b [netHidden2]float32
	w := layer(n.weights, x[:], a[:], true)
	w = layer(w, a[:], b[:], true)
	var o [netOutMax]float32
	layer(w, b[:], o[:n.outs], false)
	for i, v := range o[:n.outs] {
		out[i] = float64(v)
	}
}

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
