package peak

import (
	"bytes"
	"fmt"
	"go/format"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"testing"

	"leavend/sensor/kitchen"
)

// This file makes the weights of the networks from invented curves:
//
//	LEAVEND_TRAIN=call go test -run '^TestTrain$' -timeout 60m ./peak
//
// The seeds it draws are its own; the campaign judges with others.

const trainSeed = 900

// moment is one minute of one invented curve, with what was true then.
type moment struct {
	in    [signCount]float32
	class int8    // classBefore ... classNever
	left  float32 // hours to the top at the present pace over hours so far; < 0 past it
	lag   float32 // hours from now to the top over hours so far; NaN where it is far or there is none
	scale float32 // hours a unit of left
	way   float32 // share of the way from feed to top
	usual float64 // how usual such a curve is, for the forecast's prior
	ride  int32   // which curve
	wait  float32 // what waiting was worth
}

const (
	classBefore = iota // the zone of the top is still to come
	classOn            // within it
	classAfter         // past it
	classNever         // there is no top in this recording
	classCount
)

// worth is what a call in each class is worth.
var worth = [classCount]float64{-0.8, 1, 0, -4}

// gather runs the detector over a recording without letting it call, and
// keeps what it saw.
func gather(rec invented, ride int32, every int) (out []moment) {
	usual := usualShapes[rec.name]
	d := New(Opts{})
	n := 0
	d.watch = func(d *Detector) {
		if n++; n%every != 0 {
			return
		}
		now := d.trendAt
		m := moment{ride: ride, usual: usual, class: classNever, left: -1, lag: float32(math.NaN())}
		for i, v := range d.signs {
			m.in[i] = float32(v)
		}
		if len(rec.feeds) > 0 {
			f := rec.feeds[0]
			switch {
			case now < f.lo:
				m.class = classBefore
			case now <= f.hi:
				m.class = classOn
			case now < f.hi+1.5:
				m.class = classAfter
			default:
				return
			}
			if now > f.lo-0.5 && now < f.hi+0.5 {
				m.lag = float32((f.peak - now) / max(now, 0.1))
			}
			if now < f.peak {
				m.scale = float32(max(d.warmth.hours, 0.1) / pace(d.warmth.tempC))
				m.left = float32(f.peak-now) / m.scale
				m.way = float32(now / f.peak)
			}
		}
		out = append(out, m)
	}
	for _, s := range rec.rows {
		if s.fed {
			d.Fed(s.at)
		}
		d.Add(s.at, s.height, s.temp)
	}
	return out
}

// trainingShare says how many of n curves each family gives: the usual shapes
// more than the odd ones.
var trainingShare = map[string]float64{"gas": 2.5, "dome": 2.5, "rough": 2.5, "plateau": 0.3, "cusp": 0.7, "shoulder": 1.2, "twostep": 0.3, "linear": 0.4}

// usualShapes says how much each family counts in the forecast's prior: most
// starters draw a dome, and a forecast that fears every odd shape is of no
// use for the usual ones.
var usualShapes = map[string]float64{"gas": 1, "dome": 1, "rough": 1, "plateau": 0.4, "cusp": 0.4, "shoulder": 0.7, "twostep": 0.4, "linear": 0.4, "kitchen": 0.25}

// gatherAll draws the training curves.
func gatherAll(n int, trainSeed int) (all []moment) {
	var makers []func() invented
	for i, f := range families {
		for j := range int(float64(n) * trainingShare[f.name]) {
			s := uint64(trainSeed*1_000_003 + i*100_000 + j)
			makers = append(makers, func() invented { return single(f, s) })
		}
	}
	for j := range 6 * n {
		makers = append(makers, func() invented {
			rec := fromKitchen(kitchen.RandomRecording(uint64(trainSeed*10_000 + j)))
			if len(rec.feeds) > 1 {
				return invented{} // one feed is enough to learn from
			}
			rec.name = "kitchen"
			return rec
		})
	}
	for j := range n {
		makers = append(makers, func() invented { return quiet(uint64(trainSeed*1_000_003 + 50_000_000 + j)) })
	}
	parts := make([][]moment, len(makers))
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for i := w; i < len(makers); i += 2 {
				parts[i] = gather(makers[i](), int32(i), 4)
			}
		})
	}
	wg.Wait()
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// trainer holds a network that is being made, with Adam's moments.
type trainer struct {
	outs       int
	w, m, v, g []float64
	step       int
}

func newTrainer(outs int, seed uint64) *trainer {
	n := netSize(outs)
	t := &trainer{outs: outs, w: make([]float64, n), m: make([]float64, n), v: make([]float64, n), g: make([]float64, n)}
	r := rand.New(rand.NewPCG(seed, 3))
	i := 0
	for _, l := range [][2]int{{netHidden1, signCount}, {netHidden2, netHidden1}, {outs, netHidden2}} {
		for range l[0] {
			i++
			for range l[1] {
				t.w[i] = r.NormFloat64() / math.Sqrt(float64(l[1]))
				i++
			}
		}
	}
	return t
}

// learn takes one example; slope fills grad with the loss's derivative by the
// outputs. scale weighs the example.
func (t *trainer) learn(in *[signCount]float32, slope func(out, grad []float64)) {
	var x [signCount]float64
	for i, v := range in {
		x[i] = float64(v)
	}
	var a, da [netHidden1]float64
	var b, db [netHidden2]float64
	var o, do [netOutMax]float64
	k := 0
	for j := range a {
		a[j] = math.Tanh(t.w[k] + dot64(t.w[k+1:], x[:]))
		k += signCount + 1
	}
	k2 := k
	for j := range b {
		b[j] = math.Tanh(t.w[k] + dot64(t.w[k+1:], a[:]))
		k += netHidden1 + 1
	}
	k3 := k
	for j := range o[:t.outs] {
		s := t.w[k]
		row := t.w[k+1 : k+1+netHidden2]
		for i, w := range row {
			s += w * b[i]
		}
		o[j] = s
		k += netHidden2 + 1
	}
	slope(o[:t.outs], do[:t.outs])
	k = k3
	for j := range do[:t.outs] {
		g := do[j]
		t.g[k] += g
		for i := range b {
			t.g[k+1+i] += g * b[i]
			db[i] += g * t.w[k+1+i]
		}
		k += netHidden2 + 1
	}
	k = k2
	for j := range b {
		g := db[j] * (1 - b[j]*b[j])
		t.g[k] += g
		for i := range a {
			t.g[k+1+i] += g * a[i]
			da[i] += g * t.w[k+1+i]
		}
		k += netHidden1 + 1
	}
	k = 0
	for j := range a {
		g := da[j] * (1 - a[j]*a[j])
		t.g[k] += g
		gr := t.g[k+1 : k+1+signCount]
		for i := range gr {
			gr[i] += g * x[i]
		}
		k += signCount + 1
	}
}

// descend applies the gathered gradient of n examples.
func (t *trainer) descend(rate float64, n int) {
	t.step++
	c1, c2 := 1-math.Pow(0.9, float64(t.step)), 1-math.Pow(0.999, float64(t.step))
	for i, g := range t.g {
		g = g/float64(n) + 5e-5*t.w[i]
		t.m[i] = 0.9*t.m[i] + 0.1*g
		t.v[i] = 0.999*t.v[i] + 0.001*g*g
		t.w[i] -= rate * (t.m[i] / c1) / (math.Sqrt(t.v[i]/c2) + 1e-8)
		t.g[i] = 0
	}
}

// epoch goes once over the examples in a random order.
func (t *trainer) epoch(set []moment, r *rand.Rand, rate float64, slope func(m *moment, out, grad []float64)) {
	const batch = 128
	order := r.Perm(len(set))
	for i, k := range order {
		m := &set[k]
		t.learn(&m.in, func(out, grad []float64) { slope(m, out, grad) })
		if i%batch == batch-1 {
			t.descend(rate, batch)
		}
	}
}

func (t *trainer) net() net {
	n := net{outs: t.outs, weights: make([]float32, len(t.w))}
	for i, w := range t.w {
		n.weights[i] = float32(w)
	}
	return n
}

// value returns what a call now is worth and what waiting is worth.
func (t *trainer) values(all []moment) (now, wait []float64) {
	n := t.net()
	now, wait = make([]float64, len(all)), make([]float64, len(all))
	for i := range all {
		var in signs
		for k, v := range all[i].in {
			in[k] = float64(v)
		}
		now[i], wait[i] = n.stopValues(&in)
	}
	return now, wait
}

// followPolicy sets what waiting was worth at each moment when from then on
// the call is made at the first moment with stop[i].
func followPolicy(all []moment, stop []bool) {
	for i := len(all) - 1; i >= 0; i-- {
		next := i + 1
		switch {
		case next == len(all) || all[next].ride != all[i].ride:
			all[i].wait = 0
		case stop[next]:
			all[i].wait = float32(worth[all[next].class])
		default:
			all[i].wait = all[next].wait
		}
	}
}

// callRecipe says how one of the two networks of the call is made: with
// callNet the policy that it learns under may call only when the speed is
// below zero, as the detector does; with callNetB it may bet.
type callRecipe struct {
	rounds int
	decay  float64
	guard  bool
}

// trainCall makes the network of the call by policy iteration: it learns
// where the jar stands and what waiting is worth under the policy it has,
// then takes the better policy that follows.
func trainCall(t *testing.T, all []moment, recipe callRecipe) net {
	r := rand.New(rand.NewPCG(5, 5))
	tr := newTrainer(callOuts, 1)
	stop := make([]bool, len(all))
	for i := range all {
		stop[i] = all[i].in[signSpeed] < -0.5 // the mixed speed lies 1.5 deviations below zero
	}
	rounds, epochs := recipe.rounds, 2
	for round := range rounds {
		followPolicy(all, stop)
		for e := range epochs {
			rate := 2e-3 * math.Pow(recipe.decay, float64(round*epochs+e))
			tr.epoch(all, r, max(rate, 1e-4), callSlope)
		}
		now, wait := tr.values(all)
		for i := range stop {
			stop[i] = now[i] >= wait[i] && (!recipe.guard || now[i] > 0 && all[i].in[signSpeed] < 0)
		}
		t.Logf("round %d: %s", round, policyResult(all, stop))
	}
	return tr.net()
}

func callSlope(m *moment, out, grad []float64) {
	p := softmax(out[:classCount])
	copy(grad, p[:])
	grad[m.class]--
	grad[classCount] = out[classCount] - float64(m.wait)
	if y := float64(m.lag); y == y {
		pinball(math.Asinh(y*lagScale), out[callLag:], grad[callLag:])
	}
}

// pinball is the slope of the quantile loss, rounded within 0.02 of its
// corner.
func pinball(y float64, out, grad []float64) {
	for i, q := range outlookQuantiles {
		grad[i] = -(q - sigmoid((out[i]-y)/0.02))
	}
}

// policyResult tells how many rides a policy calls in which class.
func policyResult(all []moment, stop []bool) string {
	var count [classCount]int
	miss, last := 0, int32(-1)
	done := true
	for i := range all {
		if all[i].ride != last {
			if !done {
				miss++
			}
			last, done = all[i].ride, false
		}
		if !done && stop[i] {
			count[all[i].class]++
			done = true
		}
	}
	return fmt.Sprintf("before %d on %d after %d never %d no call %d", count[0], count[1], count[2], count[3], miss)
}

func writeNet(t *testing.T, file, name, what string, n net) {
	var b bytes.Buffer
	fmt.Fprintf(&b, "// Code generated by TestTrain. DO NOT EDIT.\n\npackage peak\n\n// %s %s\nvar %s = net{outs: %d, weights: []float32{", name, what, name, n.outs)
	for i, w := range n.weights {
		if i%12 == 0 {
			b.WriteString("\n\t")
		}
		fmt.Fprintf(&b, "%.4g, ", w)
	}
	b.WriteString("\n}}\n")
	src, err := format.Source(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, src, 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestTrain(t *testing.T) {
	what := os.Getenv("LEAVEND_TRAIN")
	if what == "" {
		t.Skip("set LEAVEND_TRAIN to make the weights again; it takes minutes")
	}
	all := gatherAll(campaignSize(200), trainSeed)
	t.Logf("%d moments", len(all))
	if strings.Contains(what, "call") {
		writeNet(t, "weights_call.go", "callNet", "tells where the jar stands and what waiting is worth.", trainCall(t, all, callRecipe{7, 0.87, true}))
		writeNet(t, "weights_call_b.go", "callNetB", "is a second opinion.", trainCall(t, all, callRecipe{5, 0.85, false}))
	}
}

func dot64(w, x []float64) float64 {
	var a, b, c, d float64
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
