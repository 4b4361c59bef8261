package peak

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/blas/gonum"

	"leavend/peak/network"
)

// learner is a network in the making: layers with tanh between them, and
// Adam's moments.
type learner struct {
	sizes   []int
	w, m, v []float32
	step    int
	alone   bool // on one core, beside others
}

// newLearner draws first weights for a network, which has more outputs while it
// learns.
func newLearner(seed uint64, of network.Network, more int) *learner {
	sizes := append([]int(nil), of.Shape[:]...)
	sizes[len(sizes)-1] += more
	n := 0
	for i := 1; i < len(sizes); i++ {
		n += sizes[i] * (sizes[i-1] + 1)
	}
	l := &learner{sizes: sizes, w: make([]float32, n), m: make([]float32, n), v: make([]float32, n)}
	r := rand.New(rand.NewPCG(seed, 3))
	k := 0
	for i := 1; i < len(sizes); i++ {
		scale := 1 / math.Sqrt(float64(sizes[i-1]))
		if i == len(sizes)-1 {
			scale *= 0.3
		}
		for range sizes[i] {
			k++ // the bias begins at zero
			for range sizes[i-1] {
				l.w[k] = float32(r.NormFloat64() * scale)
				k++
			}
		}
	}
	return l
}

// asLearner wraps a network that has learnt.
func asLearner(n network.Network) *learner { return &learner{sizes: n.Shape[:], w: n.Weights} }

// desk is what one worker needs: the states of the layers for one example,
// the slopes below them, and the gradient.
type desk struct {
	acts, blame [][]float32
	g           []float32
}

func (l *learner) newDesk() *desk {
	d := &desk{g: make([]float32, len(l.w))}
	for _, s := range l.sizes {
		d.acts, d.blame = append(d.acts, make([]float32, s)), append(d.blame, make([]float32, s))
	}
	return d
}

func fastTanh(x float32) float32 { return float32(1 - 2/(math.Exp(2*float64(x))+1)) }

// The inner loops are gonum's, which use the processor's wide registers.

func wideDot(w, x []float32) float32 {
	return gonum.Implementation{}.Sdot(len(x), w, 1, x, 1)
}

func wideAdd(g []float32, s float32, x []float32) {
	gonum.Implementation{}.Saxpy(len(x), s, x, 1, g, 1)
}

// forward returns the outputs for the inputs.
func (l *learner) forward(d *desk, in []float32) []float32 {
	copy(d.acts[0], in)
	w, last := l.w, len(l.sizes)-1
	for i := 1; i <= last; i++ {
		stride := l.sizes[i-1] + 1
		for j := range d.acts[i] {
			v := w[0] + wideDot(w[1:stride], d.acts[i-1])
			if i < last {
				v = fastTanh(v)
			}
			d.acts[i][j], w = v, w[stride:]
		}
	}
	return d.acts[last]
}

// backward gathers the gradient of the last forward; slopes are those of the
// loss by the outputs.
func (l *learner) backward(d *desk, slopes []float32) {
	last := len(l.sizes) - 1
	copy(d.blame[last], slopes)
	end := len(l.w)
	for i := last; i >= 1; i-- {
		stride := l.sizes[i-1] + 1
		start := end - l.sizes[i]*stride
		a, back := d.acts[i-1], d.blame[i-1]
		clear(back)
		for j, e := range d.blame[i] {
			if e == 0 {
				continue
			}
			at := start + j*stride
			d.g[at] += e
			wideAdd(d.g[at+1:at+stride], e, a)
			if i > 1 {
				wideAdd(back, e, l.w[at+1:at+stride])
			}
		}
		if i > 1 {
			for k, x := range a {
				back[k] *= 1 - x*x
			}
		}
		end = start
	}
}

// descend makes one step of Adam with the gradients of all desks, in their
// order, and empties them.
func (l *learner) descend(desks []*desk, rate, decay, n float64) {
	l.step++
	c1, c2 := 1-math.Pow(0.9, float64(l.step)), 1-math.Pow(0.999, float64(l.step))
	r, shrink, inv := float32(rate/c1), float32(1-rate*decay), float32(1/n)
	for i := range l.w {
		g := float32(0)
		for _, d := range desks {
			g += d.g[i]
			d.g[i] = 0
		}
		g *= inv
		l.m[i] = 0.9*l.m[i] + 0.1*g
		l.v[i] = 0.999*l.v[i] + 0.001*g*g
		l.w[i] = l.w[i]*shrink - r*l.m[i]/(float32(math.Sqrt(float64(l.v[i])/c2))+1e-8)
	}
}

// shards is into how many parts a batch is cut, whatever the machine: the sums
// are then the same everywhere.
const shards = 8

// study goes over n examples for some epochs in batches; one does an example
// on a desk. The rate rises quickly and falls as a cosine.
func (l *learner) study(seed uint64, n, epochs, batch int, rate float64, one func(d *desk, example int, epoch float64)) {
	r := rand.New(rand.NewPCG(seed, 9))
	desks := make([]*desk, shards)
	for i := range desks {
		desks[i] = l.newDesk()
	}
	total := epochs * ((n + batch - 1) / batch)
	for e := range epochs {
		order := r.Perm(n)
		for at := 0; at < n; at += batch {
			group := order[at:min(at+batch, n)]
			x := float64(l.step) / float64(total)
			shard := func(s int) {
				for i := s; i < len(group); i += shards {
					one(desks[s], group[i], float64(e))
				}
			}
			if l.alone {
				for s := range shards {
					shard(s)
				}
			} else {
				inParallel(shards, shard)
			}
			l.descend(desks, rate*min(1, x*40+0.02)*(0.502+0.498*math.Cos(math.Pi*x)), 1e-4, float64(len(group)))
		}
	}
}

// inParallel calls f for 0 to n-1 on all cores.
func inParallel(n int, f func(i int)) {
	workers := min(n, runtime.GOMAXPROCS(0))
	if workers == 1 {
		for i := range n {
			f(i)
		}
		return
	}
	var wg sync.WaitGroup
	next := make(chan int, n)
	for i := range n {
		next <- i
	}
	close(next)
	for range workers {
		wg.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	wg.Wait()
}
