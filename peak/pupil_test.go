package peak

import (
	"math"
	"math/rand/v2"
	"sync"

	"gonum.org/v1/gonum/blas/gonum"
)

// pupil is a juror that is being made, with Adam's moments.
type pupil struct {
	w, m, v []float32
	step    int
}

// newPupil draws small weights. Its call starts out as unlikely, so that it
// sees whole curves before it learns to stop.
func newPupil(seed uint64) *pupil {
	p := &pupil{w: make([]float32, jurorSize), m: make([]float32, jurorSize), v: make([]float32, jurorSize)}
	r := rand.New(rand.NewPCG(seed, 3))
	i := 0
	for k, l := range [][2]int{{jurorHidden1, viewCount}, {jurorHidden2, jurorHidden1}, {jurorOuts, jurorHidden2}} {
		for j := range l[0] {
			if k == 2 && j == jurorCall {
				p.w[i] = -3
			}
			i++
			for range l[1] {
				p.w[i] = float32(r.NormFloat64() / math.Sqrt(float64(l[1])))
				if k == 2 {
					p.w[i] *= 0.3
				}
				i++
			}
		}
	}
	return p
}

// desk holds what one worker needs for one ride: the states of the layers,
// the slopes of the loss by the outputs, and the gradient.
type desk struct {
	g []float32
	a [][jurorHidden1]float32
	b [][jurorHidden2]float32
	o [][jurorOuts]float32
	e [][jurorOuts]float32
}

func (k *desk) room(n int) {
	for len(k.a) < n {
		k.a, k.b = append(k.a, [jurorHidden1]float32{}), append(k.b, [jurorHidden2]float32{})
		k.o, k.e = append(k.o, [jurorOuts]float32{}), append(k.e, [jurorOuts]float32{})
	}
}

func fastTanh(x float32) float32 { return float32(1 - 2/(math.Exp(2*float64(x))+1)) }

// The inner loops are gonum's, which use the processor's wide registers.

func wideDot(w, x []float32) float32 {
	return gonum.Implementation{}.Sdot(len(x), w, 1, x, 1)
}

func wideAdd(g []float32, s float32, x []float32) {
	gonum.Implementation{}.Saxpy(len(x), s, x, 1, g, 1)
}

func (k *desk) forward(w []float32, set []look) {
	k.room(len(set))
	for i := range set {
		x := set[i].in[:]
		r := w
		for j := range k.a[i] {
			k.a[i][j] = fastTanh(r[0] + wideDot(r[1:], x))
			r = r[viewCount+1:]
		}
		for j := range k.b[i] {
			k.b[i][j] = fastTanh(r[0] + wideDot(r[1:], k.a[i][:]))
			r = r[jurorHidden1+1:]
		}
		for j := range k.o[i] {
			k.o[i][j] = r[0] + wideDot(r[1:], k.b[i][:])
			r = r[jurorHidden2+1:]
		}
	}
}

func (k *desk) backward(w []float32, set []look) {
	const o2 = jurorHidden1 * (viewCount + 1)
	const o3 = o2 + jurorHidden2*(jurorHidden1+1)
	for i := range set {
		var da [jurorHidden1]float32
		var db [jurorHidden2]float32
		for j, e := range k.e[i] {
			if e != 0 {
				k.pull(o3+j*(jurorHidden2+1), e, k.b[i][:], w, db[:])
			}
		}
		for j := range db {
			e := db[j] * (1 - k.b[i][j]*k.b[i][j])
			k.pull(o2+j*(jurorHidden1+1), e, k.a[i][:], w, da[:])
		}
		for j := range da {
			e := da[j] * (1 - k.a[i][j]*k.a[i][j])
			k.pull(j*(viewCount+1), e, set[i].in[:], nil, nil)
		}
	}
}

// pull adds the slope e of the neuron whose weights begin at at to the
// gradient, and hands it on to the slopes below it.
func (k *desk) pull(at int, e float32, in, w, below []float32) {
	k.g[at] += e
	wideAdd(k.g[at+1:], e, in)
	if below != nil {
		wideAdd(below, e, w[at+1:at+1+len(below)])
	}
}

// descend makes one step of Adam and empties the gradient.
func (p *pupil) descend(g []float32, rate float64) {
	p.step++
	c1, c2 := float32(1-math.Pow(0.9, float64(p.step))), float32(1-math.Pow(0.999, float64(p.step)))
	for i, e := range g {
		e += 2e-6 * p.w[i]
		p.m[i] = 0.9*p.m[i] + 0.1*e
		p.v[i] = 0.999*p.v[i] + 0.001*e*e
		p.w[i] -= float32(rate) * (p.m[i] / c1) / (float32(math.Sqrt(float64(p.v[i]/c2))) + 1e-8)
		g[i] = 0
	}
}

// epoch goes once over the rides in the given order.
func (p *pupil) epoch(looks []look, rides []ride, order []int, rate func(share float64) float64, l *lesson) {
	const batch = 32
	desks := [2]desk{{g: make([]float32, jurorSize)}, {g: make([]float32, jurorSize)}}
	for at := 0; at < len(order); at += batch {
		group := order[at:min(at+batch, len(order))]
		var wg sync.WaitGroup
		for w := range desks {
			wg.Go(func() {
				k := &desks[w]
				for i := w; i < len(group); i += 2 {
					r := rides[group[i]]
					set := looks[r.from:r.to]
					k.forward(p.w, set)
					k.slopes(set, l)
					k.backward(p.w, set)
				}
			})
		}
		wg.Wait()
		for i, e := range desks[1].g {
			desks[0].g[i] = (desks[0].g[i] + e) / batch
			desks[1].g[i] = 0
		}
		p.descend(desks[0].g, rate(float64(at)/float64(len(order))))
	}
}

// scores returns what the pupil says of a call at each look.
func (p *pupil) scores(looks []look) []float32 {
	out := make([]float32, len(looks))
	const chunk = 256
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			k := desk{}
			for i := w * chunk; i < len(looks); i += 2 * chunk {
				set := looks[i:min(i+chunk, len(looks))]
				k.forward(p.w, set)
				for j := range set {
					out[i+j] = k.o[j][jurorCall]
				}
			}
		})
	}
	wg.Wait()
	return out
}
