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

	"leavend/sensor/sim"
)

// This file makes what the forecast knows from invented curves: the shapes of
// the courses and the weights of its networks.

// aheadSeed is the seed of the curves that the forecast learns from. The
// campaign and the kitchen's test judge with others.
const aheadSeed = 4100

// aheadStrangers is the share of pasts that are another's. With none a starter
// that is kept otherwise today was forecast by what it did yesterday: a quarter
// of the intervals held its top. With more the usual starter, which is kept
// alike, is forecast less well.
const aheadStrangers = 0.15

// course shapes are read at these points of the way to the top when they are
// compared with one another.
var courseKnots = func() (x []float64) {
	for i := 1; i <= 26; i++ {
		x = append(x, float64(i)/20)
	}
	return x
}()

// drawShapes draws n whole rises of every family, and as many of the kitchen
// as of all families, each as a function of the share of the way to the top.
func drawShapes(n int) (shapes []curve, usual []float64) {
	const fine = 2000
	all := append(append([]family{}, families...), growthFamilies...)
	for i, f := range all {
		for j := range n {
			r := rand.New(rand.NewPCG(uint64(aheadSeed*1000+i), uint64(j)))
			c := f.make(r, 1, 1)
			v := make([]float64, fine+1)
			top, at := 0.0, 1.0
			for k := range v {
				x := float64(k) / 1000
				v[k] = c(x) - c(0)
				if v[k] > top {
					top, at = v[k], x
				}
			}
			shapes = append(shapes, table(v, 0.001/at, 1/top))
			usual = append(usual, aheadUsual[f.name])
		}
	}
	for j := range n * len(all) {
		r := sim.RandomRecording(uint64(aheadSeed*100_000 + j))
		if c, ok := kitchenShape(r); ok {
			shapes, usual = append(shapes, c), append(usual, aheadUsual["kitchen"])
		}
	}
	return shapes, usual
}

// kitchenShape is the noiseless curve of a recording with one undisturbed feed
// in warm time.
func kitchenShape(r *sim.Recording) (curve, bool) {
	if len(r.Truth.Feeds) != 1 || !r.Truth.Feeds[0].Peaked || r.Truth.Feeds[0].Abrupt {
		return nil, false
	}
	f := r.Truth.Feeds[0]
	every := r.Truth.Every.Hours()
	var warm, h []float32
	u, row, temp := 0.0, 0, 22.0
	var top float32
	for i, mm := range r.Truth.HeightMM {
		at := float64(i) * every
		for row < len(r.Rows) && r.Rows[row].Elapsed.Hours() <= at {
			if c := r.Rows[row].TempC; c > 5 && c < 45 {
				temp = c
			}
			row++
		}
		u += every * pace(temp)
		warm, h = append(warm, float32(u)), append(h, float32(mm-f.StartMM))
		if at <= f.TopAfter.Hours() {
			top = float32(u)
		}
	}
	return func(x float64) float64 { return lookUp(warm, h, x*float64(top)) / f.RiseMM }, true
}

// aheadUsual says how much each family counts in the forecast's prior. Most
// starters draw a dome with a lag before and a fall behind.
var aheadUsual = map[string]float64{
	"gas": 1, "dome": 1, "rough": 1, "richards": 0.8, "baranyi": 0.8,
	"plateau": 0.4, "cusp": 0.4, "shoulder": 0.6, "twostep": 0.4, "linear": 0.4, "table": 0.5, "phases": 0.6, "bursts": 0.6,
	"kitchen": 0.3, "history": 0.6, "bowl": 1,
}

// chooseShapes picks the shapes that stand for all: the medoids of k-means,
// and how much stands behind each.
func chooseShapes(shapes []curve, usual []float64, n int) (chosen []curve, mass []float64) {
	v := make([][]float64, len(shapes))
	for i, c := range shapes {
		for _, x := range courseKnots {
			v[i] = append(v[i], c(x))
		}
	}
	r := rand.New(rand.NewPCG(aheadSeed, 1))
	far := func(a, b []float64) float64 {
		s := 0.0
		for k := range a {
			s += (a[k] - b[k]) * (a[k] - b[k])
		}
		return s
	}
	centres := make([][]float64, n)
	for i := range centres {
		centres[i] = v[r.IntN(len(v))]
	}
	of := make([]int, len(v))
	for range 40 {
		sum, count := make([][]float64, n), make([]float64, n)
		for i, a := range v {
			best := math.Inf(1)
			for k, c := range centres {
				if d := far(a, c); d < best {
					best, of[i] = d, k
				}
			}
			k := of[i]
			if sum[k] == nil {
				sum[k] = make([]float64, len(a))
			}
			for j := range a {
				sum[k][j] += usual[i] * a[j]
			}
			count[k] += usual[i]
		}
		for k := range centres {
			if count[k] == 0 {
				centres[k] = v[r.IntN(len(v))]
				continue
			}
			c := make([]float64, len(sum[k]))
			for j := range c {
				c[j] = sum[k][j] / count[k]
			}
			centres[k] = c
		}
	}
	for k := range centres {
		best, at, m := math.Inf(1), -1, 0.0
		for i := range v {
			if of[i] == k {
				m += usual[i]
				if d := far(v[i], centres[k]); d < best {
					best, at = d, i
				}
			}
		}
		if at >= 0 {
			chosen, mass = append(chosen, shapes[at]), append(mass, m)
		}
	}
	for len(chosen) < n { // an empty cluster: any shape, with nothing behind it
		chosen, mass = append(chosen, shapes[0]), append(mass, 1e-3)
	}
	return chosen, mass
}

func writeCourses(t *testing.T, shapes []curve, mass []float64) {
	total := 0.0
	for _, m := range mass {
		total += m
	}
	var b bytes.Buffer
	b.WriteString("// Code generated by TestTrainAhead. DO NOT EDIT.\n\npackage peak\n\n// courseUsual is the logarithm of how usual each shape is.\nvar courseUsual = [courseCount]float32{")
	for _, m := range mass {
		fmt.Fprintf(&b, "%.3g, ", math.Log(m/total))
	}
	b.WriteString("}\n\n// courseShapes are whole rises, from a quarter past the top back to the feed,\n// at even and at odd steps.\nvar courseShapes = [courseCount][2][courseHalf]float32{\n")
	for _, s := range shapes {
		b.WriteString("{")
		for odd := range 2 {
			b.WriteString("{")
			for i := range courseHalf {
				x := math.Exp(courseStep * float64(courseBefore-odd-2*i))
				fmt.Fprintf(&b, "%.3g,", math.Round(s(x)*1e4)/1e4)
			}
			b.WriteString("},\n")
		}
		b.WriteString("},\n")
	}
	b.WriteString("}\n")
	writeGo(t, "weights_courses.go", b.Bytes())
}

func writeGo(t *testing.T, file string, raw []byte) {
	src, err := format.Source(raw)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, src, 0o644); err != nil {
		t.Fatal(err)
	}
}

// ahead is one moment of an invented curve and what was still to come.
type ahead struct {
	in    [prospectCount]float32
	left  float32 // hours to the top at the present pace over warm hours so far; 0 past it
	scale float32 // hours a unit of left
	more  float32 // logarithm of the rise at the top over the greatest so far
	way   float32 // share of the way from feed to top; above 1 past it
	kind  string
	ride  int32
}

// lookAhead runs the detector over a recording without letting it call, and
// keeps a moment every few minutes, up to the end of the top or the moment
// where it would have called past it. With a source of chance some feeds begin
// with the past of another pace and size.
func lookAhead(rec invented, kind string, ride int32, every int, o Opts, strange *rand.Rand) (out []ahead) {
	d := New(o)
	k, n := -1, 0
	over := false
	hour := func() float64 { return d.trendAt }
	d.watch = func(d *Detector) {
		if k >= 0 && !over && hour() > rec.feeds[k].peak && d.topIsHere() {
			over = true
		}
	}
	d.watchAhead = func(d *Detector) {
		if n++; over || n%every != 0 || k < 0 {
			return
		}
		f := rec.feeds[k]
		now := hour()
		if now > f.hi+0.25 || now < f.feed || !f.peaked {
			return
		}
		d.prospect.read(d)
		m := ahead{ride: ride, kind: kind}
		for i, v := range d.prospect {
			m.in[i] = float32(v)
		}
		m.scale = float32(max(d.warmth.hours, 0.1) / pace(d.warmth.tempC))
		m.left = float32(max(f.peak-now, 0)) / m.scale
		m.more = float32(math.Log(max(f.rise/max(d.feed.high-d.feed.base, 1), 0.9)))
		m.way = float32((now - f.feed) / (f.peak - f.feed))
		out = append(out, m)
	}
	past := New(o) // calls, and so has a history; it forecasts nothing
	past.watchAhead = func(*Detector) {}
	for _, s := range rec.rows {
		if s.fed {
			k, over = k+1, false
			d.Fed(s.at)
			if len(rec.feeds) > 1 {
				past.Fed(s.at)
				d.history = append(d.history[:0], past.history...)
				if strange != nil && strange.Float64() < aheadStrangers {
					d.history = estrange(d.history, strange)
				}
				d.habit.learn(d.history)
			}
		}
		d.Add(s.at, s.height, s.temp)
		if len(rec.feeds) > 1 {
			past.Add(s.at, s.height, s.temp)
		}
	}
	return out
}

// TestLookAhead holds the lessons of the forecast to reach from the first
// grounds to the top: a jar that has risen enough to be called still teaches.
func TestLookAhead(t *testing.T) {
	moments := lookAhead(single(families[1], 5), "dome", 0, 6, Opts{}, nil)
	if len(moments) == 0 {
		t.Fatal("no moments")
	}
	if first, last := moments[0].way, moments[len(moments)-1].way; first > 0.6 || last < 0.95 {
		t.Errorf("moments from %.2f to %.2f of the way, want the whole way", first, last)
	}
}

// gatherAhead draws the curves to learn from: n of each family, of the kitchen
// as many as of all families together, and 2n histories of six feeds.
func gatherAhead(n int, seed uint64, every int) (all []ahead) {
	type maker struct {
		kind string
		make func() (invented, bool)
	}
	var makers []maker
	for i, f := range families {
		for j := range n {
			s := seed*1_000_003 + uint64(i*100_000+j)
			makers = append(makers, maker{f.name, func() (invented, bool) {
				if j%2 == 0 {
					return grown(f, s), true
				}
				return single(f, s), true
			}})
		}
	}
	for i, f := range growthFamilies {
		for j := range n {
			s := seed*1_000_003 + uint64((i+50)*100_000+j)
			makers = append(makers, maker{f.name, func() (invented, bool) { return grown(f, s), true }})
		}
	}
	for j := range n * len(makers) / n {
		makers = append(makers, maker{"kitchen", func() (invented, bool) { return kitchenFeed(seed*1_000_000 + uint64(j)) }})
	}
	for j := range 2 * n {
		i := j / 2 % (len(families) + len(growthFamilies))
		makers = append(makers, maker{"history", func() (invented, bool) {
			if j%2 == 0 {
				return fromKitchen(sim.History(seed*1_000_000+uint64(j), 6)), true
			}
			f := append(append([]family{}, families...), growthFamilies...)[i]
			return several(f, seed*1_000_003+uint64(j), 6, true), true
		}})
	}
	parts := make([][]ahead, len(makers))
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for i := w; i < len(makers); i += 2 {
				if rec, ok := makers[i].make(); ok && len(rec.feeds) > 0 {
					parts[i] = lookAhead(rec, makers[i].kind, int32(i), every, Opts{}, rand.New(rand.NewPCG(seed, uint64(i))))
				}
			}
		})
	}
	wg.Wait()
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// lookAheadBowl does the same for a dough and its target.
func lookAheadBowl(b leaven, ride int32, every int) (out []ahead) {
	d := New(Opts{Kind: Bowl, FloorKnown: true, TargetRatio: b.ratio})
	n := 0
	d.watchAhead = func(d *Detector) {
		now := d.trendAt - d.feed.at
		if n++; n%every != 0 || now > b.at+0.1 {
			return
		}
		d.prospect.read(d)
		m := ahead{ride: ride, kind: "bowl", way: float32(now / b.at)}
		for i, v := range d.prospect {
			m.in[i] = float32(v)
		}
		m.scale = float32(max(d.warmth.hours, 0.1) / pace(d.warmth.tempC))
		m.left = float32(max(b.at-now, 0)) / m.scale
		out = append(out, m)
	}
	for _, s := range b.rows {
		if s.fed {
			d.Fed(s.at)
		}
		d.Add(s.at, s.height, s.temp)
	}
	return out
}

// gatherBowls draws the doughs to learn from: n of each family that a dough
// may follow, and as many of the kitchen as of all of them.
func gatherBowls(n int, seed uint64) (all []ahead) {
	kinds := []family{families[0], families[1], families[6], families[7], growthFamilies[0], growthFamilies[1], growthFamilies[3]}
	ride := int32(0)
	for i, f := range kinds {
		for j := range n {
			r := rand.New(rand.NewPCG(seed*1000+uint64(i), uint64(j)))
			all = append(all, lookAheadBowl(inventBowl(f, r), ride, 4)...)
			ride++
			if b, ok := kitchenBowl(seed*100_000 + uint64(i*n+j)); ok {
				all = append(all, lookAheadBowl(b, ride, 4)...)
				ride++
			}
		}
	}
	return all
}

// aheadMembers are the networks of the forecast and what each attends to: A to
// the whole way alike, B and C more to its last stretch, and D, for which every
// feed is alike however long it takes, to where bakers begin to look.
var aheadMembers = map[string]attention{
	"aheadNetA": {seed: 1}, "aheadNetB": {seed: 2, near: 0.5}, "aheadNetC": {seed: 3, near: 0.5},
	"aheadNetD": {seed: 5, near: 0.7, late: 2, even: true},
}

// TestTrainAhead makes what the forecast knows again:
//
//	LEAVEND_TRAIN=courses,ahead,bowl go test -run '^TestTrainAhead$' -timeout 120m ./peak
func TestTrainAhead(t *testing.T) {
	what := os.Getenv("LEAVEND_TRAIN")
	if strings.Contains(what, "courses") {
		shapes, usual := drawShapes(150)
		chosen, mass := chooseShapes(shapes, usual, courseCount)
		writeCourses(t, chosen, mass)
	}
	if strings.Contains(what, "ahead") {
		all := gatherAhead(450, aheadSeed, 6)
		t.Logf("%d moments", len(all))
		nets := map[string]*learner{}
		var mu sync.Mutex
		var wg sync.WaitGroup
		for name, a := range aheadMembers {
			wg.Go(func() {
				l := learnAhead(all, 4, a)
				mu.Lock()
				nets[name] = l
				mu.Unlock()
			})
		}
		wg.Wait()
		writeNets(t, "weights_ahead.go", nets)
	}
	if strings.Contains(what, "bowl") {
		all := gatherBowls(100, aheadSeed)
		t.Logf("%d moments", len(all))
		writeNets(t, "weights_bowl.go", map[string]*learner{"aheadNetBowl": learnAhead(all, 8, attention{seed: 1, near: 0.5})})
	}
	if what == "" {
		t.Skip("set LEAVEND_TRAIN to make the weights again; it takes minutes")
	}
}
