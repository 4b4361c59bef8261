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
	netHidden1 = 32
	netHidden2 = 16
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
		s := row[0]
		for i, v := range in {
			s += row[i+1] * v
		}
		if bend {
			s = float32(math.Tanh(float64(s)))
		}
		out[j] = s
	}
	return w[len(out)*stride:]
}
