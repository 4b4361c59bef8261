package peak

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
)

// learnCall makes the network of the call. What is learnt is when to stop: the
// score of a moment is the chance of calling then, the chances along a whole
// curve give what the curve is worth on average, and the weights climb that
// worth. Where the jar stands and how far off the peak is are learnt beside
// it, by the same neurons; the first of the two is not kept.
func learnCall(rides []ride, seed uint64, epochs int) *learner {
	l := newLearner(seed, decodeModel(nil).call, places)
	l.w[len(l.kept(callScore))] = -3 // it sees whole curves before it learns to stop
	l.study(seed, len(rides), epochs, 32, 4e-3, func(d *desk, i int, epoch float64) {
		l.learnStop(d, rides[i].looks, min(epoch, 1))
	})
	return l
}

// learnStop adds the gradient of one ride.
func (l *learner) learnStop(d *desk, looks []look, stop float64) {
	n := len(looks)
	if n == 0 {
		return
	}
	score := make([]float64, n)
	h1, h2, outs := len(d.acts[1]), len(d.acts[2]), len(d.acts[3])
	states := make([]float32, n*(h1+h2+outs)) // of the layers, so that they are worked out once
	for i := range looks {
		score[i] = sigmoid(float64(l.forward(d, looks[i].in[:])[callScore]))
		s := states[i*(h1+h2+outs):]
		copy(s, d.acts[1])
		copy(s[h1:], d.acts[2])
		copy(s[h1+h2:], d.acts[3])
	}
	// What going on is worth after each moment, from the end.
	on := make([]float64, n)
	c := 0.0
	if p := looks[n-1].place; p == placeOn || p == placeAfter {
		c = worthMiss
	}
	for i := n - 1; i >= 0; i-- {
		on[i] = c
		c = score[i]*float64(looks[i].worth) + (1-score[i])*c
	}
	reach := 1.0 // the chance to come to this moment without a call
	var slopes [callOuts + places]float32
	for i := range looks {
		m := &looks[i]
		s := states[i*(h1+h2+outs):]
		copy(d.acts[0], m.in[:])
		copy(d.acts[1], s)
		copy(d.acts[2], s[h1:])
		o := s[h1+h2 : h1+h2+outs]
		slopes = [callOuts + places]float32{}
		p := score[i]
		slopes[callScore] = float32(-stop * reach * p * (1 - p) * (float64(m.worth) - on[i]))
		reach *= 1 - p
		soft := softmax(o[callOuts:])
		for k, v := range soft {
			if k == int(m.place) {
				v--
			}
			slopes[callOuts+k] = float32(v / float64(n))
		}
		if m.told {
			y := math.Asinh(float64(m.lag/max(m.hours, 0.1)) * lagScale)
			for q, level := range forecastQuantiles {
				slopes[callLag+q] = float32(0.5 / float64(n) * (sigmoid((float64(o[callLag+q])-y)/0.02) - level))
			}
		}
		l.backward(d, slopes[:])
	}
}

func softmax(x []float32) []float64 {
	best := float32(math.Inf(-1))
	for _, v := range x {
		best = max(best, v)
	}
	out, sum := make([]float64, len(x)), 0.0
	for i, v := range x {
		out[i] = math.Exp(float64(v - best))
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// kept returns the weights without the outputs that only serve learning.
func (l *learner) kept(outs int) []float32 {
	extra := l.sizes[len(l.sizes)-1] - outs
	return l.w[:len(l.w)-extra*(l.sizes[len(l.sizes)-2]+1)]
}

// scores returns the score of the call for every look.
func (l *learner) scores(rides []ride) [][]float32 {
	out := make([][]float32, len(rides))
	inParallel(len(rides), func(i int) {
		d := l.newDesk()
		s := make([]float32, len(rides[i].looks))
		for j := range s {
			s[j] = l.forward(d, rides[i].looks[j].in[:])[callScore]
		}
		out[i] = s
	})
	return out
}

// callShares are what limits make of rides, in %.
type callShares struct{ n, on, near, early, late, miss, never, quiet float64 }

func (s callShares) String() string {
	return fmt.Sprintf("n=%4.0f on %5.1f near %5.1f early %4.1f late %4.1f miss %4.1f, called without a peak %.0f of %.0f", s.n, s.on, s.near, s.early, s.late, s.miss, s.never, s.quiet)
}

// chooseLimits sets the scores from which the peak is called, of a steady sensor
// and of one that wanders: those that are worth most on feeds that were not learnt
// from. It goes step by step from zero.
func chooseLimits(rides []ride, scores [][]float32, m *model) {
	limits := m.limits[limitCall:limitNew]
	clear(limits)
	best := valueOf(rides, scores, m)
	for step := float32(1); step > 0.1; step /= 2 {
		for again := true; again; {
			again = false
			for i := range limits {
				for _, by := range [...]float32{-step, step} {
					was := limits[i]
					limits[i] += by
					if v := valueOf(rides, scores, m); v > best {
						best, again = v, true
					} else {
						limits[i] = was
					}
				}
			}
		}
	}
}

// valueOf is what calls are worth, of 100: every kind counts alike, and all the
// recordings without a peak as one. A call on top is worth as much as two that are
// merely near, one too early takes half of that off, and one without a peak as much as
// in learning.
func valueOf(rides []ride, scores [][]float32, m *model) float64 {
	kinds := kindsOf(rides)
	parts := make([]callShares, len(kinds))
	inParallel(len(kinds), func(i int) {
		parts[i] = sharesAt(rides, scores, m, func(r *ride) bool { return r.kind == kinds[i] })
	})
	value, n, never, quiet := 0.0, 1.0, 0.0, 1e-9
	for _, s := range parts {
		never, quiet = never+s.never, quiet+s.quiet
		if s.n > 0 {
			value, n = value+(s.on+s.near-s.early)/2, n+1
		}
	}
	return (value + 100*worthNever*never/quiet) / n
}

func kindsOf(rides []ride) []string {
	kinds := map[string]bool{}
	for i := range rides {
		kinds[rides[i].kind] = true
	}
	return sortedKeys(kinds)
}

func sharesAt(rides []ride, scores [][]float32, m *model, in func(*ride) bool) (s callShares) {
	for i := range rides {
		r := &rides[i]
		if len(r.looks) == 0 || !in(r) {
			continue
		}
		quiet := r.looks[0].place == placeNever
		if quiet {
			s.quiet++
		} else {
			s.n++
		}
		called := false
		var mean meanScore
		for j := range r.looks {
			if r.looks[j].climb {
				mean = meanScore{}
				continue
			}
			if !m.calls(&mean, scores[i][j], r.looks[j].in[callWander], r.looks[j].at) {
				continue
			}
			called = true
			switch m := &r.looks[j]; {
			case m.place == placeNever:
				s.never++
			case m.place == placeOn:
				s.on, s.near = s.on+1, s.near+1
			case m.place == placeBefore:
				s.early++
				if m.worth == worthNearEarly {
					s.near++
				}
			default:
				s.late++
				if m.worth == worthNearLate {
					s.near++
				}
			}
			break
		}
		if !called && !quiet {
			s.miss++
		}
	}
	by := 100 / max(s.n, 1)
	s.on, s.near, s.early, s.late, s.miss = s.on*by, s.near*by, s.early*by, s.late*by, s.miss*by
	return s
}

// byKind tells what the limits make of each kind.
func byKind(rides []ride, scores [][]float32, m *model) string {
	var b strings.Builder
	for _, k := range kindsOf(rides) {
		fmt.Fprintf(&b, "  %-10s %v\n", k, sharesAt(rides, scores, m, func(r *ride) bool { return r.kind == k }))
	}
	return b.String()
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
