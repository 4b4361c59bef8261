package peak

import (
	"math"
	"math/rand/v2"

	"leavend/sensor/sim"
)

// Shapes are read at these points of the way to the top when they are
// compared with one another.
var templateKnots = func() (x []float64) {
	for i := 1; i <= 26; i++ {
		x = append(x, float64(i)/20)
	}
	return x
}()

// drawShapes draws n whole rises of every family, and as many of the kitchen
// as of four of them, each as a function of the share of the way to the top.
func drawShapes(n int) (shapes []shape, usual []float64) {
	const fine = 2000
	all := append(append([]family{}, families...), growthFamilies...)
	for i, f := range all {
		for j := range n {
			r := rand.New(rand.NewPCG(uint64(lessonSeed*1000+i), uint64(j)))
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
			usual = append(usual, templateUsual[f.name])
		}
	}
	whole := make([]shape, 4*n)
	inParallel(len(whole), func(j int) {
		if c, ok := kitchenShape(sim.RandomRecording(uint64(lessonSeed*100_000 + j))); ok {
			whole[j] = c
		}
	})
	for _, c := range whole {
		if c != nil {
			shapes, usual = append(shapes, c), append(usual, 4*templateUsual["kitchen"])
		}
	}
	return shapes, usual
}

// kitchenShape is the noiseless curve of a recording with one undisturbed feed
// in warm time.
func kitchenShape(r *sim.Recording) (shape, bool) {
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

// templateUsual says how much each family counts among the templates. Most
// starters draw a dome with a lag before and a fall behind.
var templateUsual = map[string]float64{
	"gas": 1, "dome": 1, "rough": 1, "richards": 0.8, "baranyi": 0.8,
	"plateau": 0.4, "cusp": 0.4, "shoulder": 0.6, "twostep": 0.4, "linear": 0.4, "table": 0.5, "phases": 0.6, "bursts": 0.6,
	"kitchen": 0.3,
}

// chooseShapes picks the shapes that stand for all: the medoids of k-means,
// and how much stands behind each.
func chooseShapes(shapes []shape, usual []float64, n int) (chosen []shape, mass []float64) {
	v := make([][]float64, len(shapes))
	for i, c := range shapes {
		for _, x := range templateKnots {
			v[i] = append(v[i], c(x))
		}
	}
	r := rand.New(rand.NewPCG(lessonSeed, 1))
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

// learnTemplates fills in the model's curve templates.
func learnTemplates(m *model) {
	shapes, usual := drawShapes(80)
	chosen, mass := chooseShapes(shapes, usual, templateCount)
	total := sum(mass)
	for k, s := range chosen {
		m.usual[k] = float32(math.Log(mass[k] / total))
		for odd := range 2 {
			for i := range templateHalf {
				m.template(k, odd)[i] = float32(s(math.Exp(templateStep * float64(templateBefore-odd-2*i))))
			}
		}
	}
}
