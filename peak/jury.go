package peak

// A jury calls the top. Each juror is a small network of two hidden layers
// that looks at a view and says how far calling now is better than going on.
// They learnt apart, on the same invented curves; their scores are averaged,
// which takes out some of what each of them learnt by heart.
type juror struct {
	weights []float32 // layer by layer; each neuron: its bias, then its inputs
}

const (
	jurorHidden1 = 64
	jurorHidden2 = 32

	// What a juror puts out: the score of a call now, four scores for where
	// the jar stands (before its top, on it, past it, none to come), and three
	// quantiles of the time to the top.
	jurorCall  = 0
	jurorPlace = 1
	jurorLag   = 5
	jurorOuts  = 8

	jurorSize = jurorHidden1*(viewCount+1) + jurorHidden2*(jurorHidden1+1) + jurorOuts*(jurorHidden2+1)
)

// look adds the juror's outputs to out; it allocates nothing.
func (j juror) look(x *[viewCount]float32, out *[jurorOuts]float64) {
	var a [jurorHidden1]float32
	var b [jurorHidden2]float32
	var o [jurorOuts]float32
	w := layer(j.weights, x[:], a[:], true)
	w = layer(w, a[:], b[:], true)
	layer(w, b[:], o[:], false)
	for i, e := range o {
		out[i] += float64(e)
	}
}

// jury lists the jurors for a starter: two for a new one, and two others once
// it has past feeds, who also learnt that a starter that rose on other days may
// not rise today.
func jury(known bool) [2]juror {
	if known {
		return [...]juror{jurorC, jurorD}
	}
	return [...]juror{jurorA, jurorB}
}

// hear returns the mean of what the jurors say of a view.
func hear(v *view, known bool) (out [jurorOuts]float64) {
	var x [viewCount]float32
	for i, e := range v {
		x[i] = float32(e)
	}
	all := jury(known)
	for _, j := range all {
		j.look(&x, &out)
	}
	for i := range out {
		out[i] /= float64(len(all))
	}
	return out
}
