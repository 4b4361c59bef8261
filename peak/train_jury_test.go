package peak

import (
	"bytes"
	"fmt"
	"go/format"
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"strings"
	"testing"
)

// This file makes the jurors from invented curves:
//
//	LEAVEND_TRAIN=jury go test -run '^TestTrainJury$' -v -timeout 120m ./peak
//
// What is learnt is when to stop: a juror's score is the chance of calling at a
// look, the chances along a whole curve give what the curve is worth on
// average, and the weights climb that worth. Where the jar stands and how far
// off the top is are learnt beside it, by the same neurons.

const (
	juryKitchen   = 9000 // recordings of the kitchen, seeds from 20 000 000 on
	juryFamilies  = 250  // curves of each family of our own
	juryHistories = 900  // histories of five feeds
	juryEpochs    = 10
	juryRate      = 3e-3
)

// lesson says what is learnt for.
type lesson struct {
	early, late, miss, never float64 // worth of a call
	class, stop, lag         float64 // weights of the three tasks
}

// usualLesson: an early call wakes a baker for nothing and spoils the feed's
// only call, a late one gains nothing, none at all is a little worse, and one
// where there is no top is a lie.
var usualLesson = lesson{early: -0.8, late: 0, miss: -0.1, never: -2.5, class: 1, stop: 1, lag: 0.5}

func (l *lesson) worth(m *look) float64 {
	switch m.class {
	case classBefore:
		return l.early
	case classOn:
		return 1
	case classAfter:
		return l.late
	}
	return l.never
}

// slopes fills the derivatives of the loss by the outputs.
func (k *desk) slopes(set []look, l *lesson) {
	n := len(set)
	for i := range set {
		m := &set[i]
		o, e := &k.o[i], &k.e[i]
		*e = [jurorOuts]float32{}
		p := softmax([]float64{float64(o[1]), float64(o[2]), float64(o[3]), float64(o[4])})
		p[m.class]--
		for c, v := range p {
			e[1+c] = float32(l.class / float64(n) * v)
		}
		if m.lag < 1.5 && m.lag > -1.5 && (m.class == classOn || m.from < 0.75 && m.from > -1.5) {
			y := math.Asinh(float64(m.lag/max(m.hours, 0.1)) * lagScale)
			for q, level := range outlookQuantiles {
				e[5+q] = float32(-l.lag / float64(n) * (level - sigmoid((float64(o[5+q])-y)/0.02)))
			}
		}
	}
	if l.stop == 0 {
		return
	}
	// What going on is worth after each look, from the end.
	const most = 600
	var on [most]float64
	c := l.miss
	if set[n-1].class == classNever || set[n-1].class == classBefore {
		c = 0
	}
	for i := n - 1; i >= 0; i-- {
		on[i%most] = c
		p := sigmoid(float64(k.o[i][0]))
		c = p*l.worth(&set[i]) + (1-p)*c
	}
	s := 1.0
	for i := range set {
		p := sigmoid(float64(k.o[i][0]))
		k.e[i][0] = float32(-l.stop * s * p * (1 - p) * (l.worth(&set[i]) - on[i%most]))
		s *= 1 - p
	}
}

// verdicts tells what the first look with a score above the limit makes of each ride.
func verdicts(scores []float32, looks []look, rides []ride, limit float32) string {
	type row struct{ n, early, on, late, miss, never, quiet int }
	rows := map[string]*row{}
	for _, r := range rides {
		any := rows[r.source]
		if any == nil {
			any = &row{}
			rows[r.source] = any
		}
		quiet := looks[r.from].class == classNever
		if quiet {
			any.quiet++
		} else {
			any.n++
		}
		done := false
		for i := r.from; i < r.to && !done; i++ {
			if scores[i] > limit {
				done = true
				switch looks[i].class {
				case classBefore:
					any.early++
				case classOn:
					any.on++
				case classAfter:
					any.late++
				default:
					any.never++
				}
			}
		}
		if !done && !quiet {
			any.miss++
		}
	}
	var names []string
	all := &row{}
	for name, r := range rows {
		if name != "kitchen" && name != "quiet" && name != "catalogue" && name != "first" && name != "known" && name != "strange" {
			all.n, all.early, all.on, all.late, all.miss, all.never, all.quiet = all.n+r.n, all.early+r.early, all.on+r.on, all.late+r.late, all.miss+r.miss, all.never+r.never, all.quiet+r.quiet
		}
		names = append(names, name)
	}
	sort.Strings(names)
	rows["FAMILIES"] = all
	names = append(names, "FAMILIES")
	s := ""
	for _, name := range names {
		r := rows[name]
		if r.n+r.quiet == 0 {
			continue
		}
		pc := func(v int) float64 { return 100 * float64(v) / math.Max(1, float64(r.n)) }
		s += fmt.Sprintf("  %-9s on %5.1f early %4.1f late %4.1f miss %4.1f (n=%d) false %d/%d\n", name, pc(r.on), pc(r.early), pc(r.late), pc(r.miss), r.n, r.never, r.quiet)
	}
	return s
}

// TestTrainJury writes the weights of all jurors and prints how they do on
// curves that they did not learn from.
func TestTrainJury(t *testing.T) {
	if !strings.Contains(os.Getenv("LEAVEND_TRAIN"), "jury") {
		t.Skip("set LEAVEND_TRAIN=jury to make the weights again; it takes a quarter of an hour")
	}
	fresh, freshRides := watchAll(1600, 60, 150, 30, true, false)
	for _, known := range []bool{false, true} {
		looks, rides := watchAll(juryKitchen, juryFamilies, juryHistories, 20, false, known)
		t.Logf("known %v: %d looks at %d curves to learn from, %d at %d to judge with", known, len(looks), len(rides), len(fresh), len(freshRides))
		letters := "ab"
		if known {
			letters = "cd"
		}
		sum := make([]float32, len(fresh))
		for j, letter := range letters {
			p := trainJuror(looks, rides, uint64(j), func(e int, p *pupil) {
				t.Logf("juror %c, epoch %d, on fresh curves\n%s", letter, e, verdicts(p.scores(fresh), fresh, freshRides, 0))
			})
			for i, s := range p.scores(fresh) {
				sum[i] += s
			}
			writeJuror(t, fmt.Sprintf("weights_juror_%c.go", letter), fmt.Sprintf("juror%c", letter-'a'+'A'), p)
		}
		t.Logf("together\n%s", verdicts(sum, fresh, freshRides, 0))
	}
}

// trainJuror makes one juror. In the first epoch it only learns to tell where
// the jar stands.
func trainJuror(looks []look, rides []ride, seed uint64, after func(epoch int, p *pupil)) *pupil {
	p := newPupil(seed + 1)
	r := rand.New(rand.NewPCG(seed, 9))
	l := usualLesson
	for e := range juryEpochs {
		l.stop = min(float64(e), 1)
		p.epoch(looks, rides, r.Perm(len(rides)), func(share float64) float64 {
			x := (float64(e) + share) / juryEpochs
			return juryRate * min(1, x*40) * (0.5 + 0.5*math.Cos(math.Pi*x))
		}, &l)
		after(e, p)
	}
	return p
}

func writeJuror(t *testing.T, file, name string, p *pupil) {
	var b bytes.Buffer
	fmt.Fprintf(&b, "// Code generated by TestTrainJury. DO NOT EDIT.\n\npackage peak\n\n// %s is one of the jury.\nvar %s = juror{weights: []float32{", name, name)
	for i, w := range p.w {
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
