package peak

// aheadNet is a network of the forecast: two hidden layers with tanh over the
// prospect, and for each asked chance the logarithm of what is left; besides
// them the logarithm of the rise at the top over the greatest so far.
type aheadNet struct{ weights []float32 }

const (
	aheadHidden1 = 48
	aheadHidden2 = 24
	aheadOuts    = 4
	aheadMore    = 3 // the output for what is still to rise
)

// run computes the outputs; it allocates nothing.
func (n aheadNet) run(in *prospect) (out [aheadOuts]float64) {
	var x [prospectCount]float32
	for i, v := range in {
		x[i] = float32(v)
	}
	var a [aheadHidden1]float32
	var b [aheadHidden2]float32
	var o [aheadOuts]float32
	w := layer(n.weights, x[:], a[:], true)
	w = layer(w, a[:], b[:], true)
	layer(w, b[:], o[:], false)
	for i, v := range o {
		out[i] = float64(v)
	}
	return out
}
