package control

import (
	"encoding/binary"
	"math"
	"slices"
)

// modelForm changes when the numbers of a model, or what they mean, change.
const modelForm = 3

// numbers calls f for every number of a model that a restart must not lose.
func (m *model) numbers(f func(*float64)) {
	for _, v := range []*float64{&m.t0, &m.sum, &m.n, &m.age, &m.last, &m.contact, &m.rated, &m.jumps, &m.offset} {
		f(v)
	}
	n := &m.need
	for _, v := range []*float64{&n.since, &n.was, &n.c, &n.set, &n.roomC, &n.slow, &n.used, &n.more, &n.gap} {
		f(v)
	}
	for i := range m.regime {
		f(&m.regime[i])
	}
	for d := range m.x {
		for i := range m.x[d] {
			f(&m.x[d][i])
		}
	}
	for l := range m.heat {
		for d := range m.heat[l] {
			f(&m.heat[l][d])
		}
	}
	for w := range m.cand {
		for l := range m.cand[w] {
			g := &m.cand[w][l]
			f(&g.deaf)
			f(&g.surprise)
			for i := range g.x {
				f(&g.x[i])
				f(&g.unheated[i])
				for j := range g.cov[i] {
					f(&g.cov[i][j])
				}
			}
		}
	}
	m.eachAnswer(func(_ *filter, a *answer, _, _, _ int) {
		for _, v := range []*float64{&a.x[temp], &a.x[trend], &a.x[core], &a.info, &a.pull, &a.score} {
			f(v)
		}
	})
}

// bytes is the whole model; nil before there is anything to keep.
func (m *model) bytes() []byte {
	if !m.given {
		return nil
	}
	b := []byte{modelForm}
	m.numbers(func(v *float64) { b = binary.LittleEndian.AppendUint64(b, math.Float64bits(*v)) })
	return b
}

// continues puts the model of a run that ended away minutes ago in place of m,
// if b is one and that is short enough for it to go on as if nothing had been.
func (m *model) continues(b []byte, away float64) bool {
	if len(b) == 0 || b[0] != modelForm || away > longestAway {
		return false
	}
	was, good := model{begun: true, given: true}, true
	b = b[1:]
	was.numbers(func(v *float64) {
		if good = good && len(b) >= 8; good {
			*v = math.Float64frombits(binary.LittleEndian.Uint64(b))
			b = b[8:]
			good = !math.IsNaN(*v) && !math.IsInf(*v, 0)
		}
	})
	if !good || len(b) > 0 {
		return false
	}
	*m = was
	m.rank()
	m.pass(away)
	return true
}

// longestAway is for how many minutes nothing may have run (guess).
const longestAway = halfHour

// learnt is what a restart must not forget, by the likeliest candidate; nil
// before there is anything.
func (m *model) learnt() *Learnt {
	if !m.given {
		return nil
	}
	most := math.Inf(-1)
	var best view
	m.eachAnswer(func(_ *filter, a *answer, w, l, d int) {
		if a.score > most {
			most, best = a.score, m.view(w, l, d)
		}
	})
	n := &m.need
	l := &Learnt{
		DelayMin: round(best.way.delay), RateCMin: round(best.b), LossMin: round(best.loss), Share: round(-best.drift(best.c, m.t0) / best.b),
		OnMin: math.Round(m.rated), Contact: round(m.contact), Jumps: round(m.jumps),
	}
	if n.since > settleMinutes {
		l.Was, l.WasC, l.GapC, l.UsedPart = round(n.was), round(n.c), round(n.gap), round(n.used)
	}
	way := slices.IndexFunc(ways[:], func(w way) bool { return w == best.way })
	for i := range storedParts {
		l.Stored = append(l.Stored, round(m.x[way][(2*i+1)*best.way.stages/(2*storedParts)]))
	}
	return l
}

// storedParts is in how many parts the heat on its way is kept.
const storedParts = 10

// round keeps three digits, so that a snapshot stays small.
func round(v float64) float64 { return math.Round(v*1000) / 1000 }

// recall puts what was learnt before a restart, away minutes ago, in place of
// the first beliefs, for a vessel that now reads c. It may be another vessel:
// what was known counts as a few pulses (guesses, here and below).
func (m *model) recall(l Learnt, c, away float64) {
	m.eachAnswer(func(f *filter, a *answer, _, loss, d int) {
		a.info = 1 / sq(3*sureB*l.RateCMin)
		a.pull = l.RateCMin*a.info + (l.RateCMin-priorB)/sq(priorSigmaB)
		a.score = -2*math.Abs(math.Log(ways[d].delay/l.DelayMin)) - math.Abs(math.Log(losses[loss]/l.LossMin))
		f.x[trend], f.cov[trend][trend] = 0, sq(0.1*l.RateCMin) // it was held: what the heat gave, the room took
	})
	for i, w := range ways {
		for j := range w.stages {
			if part := (2*j + 1) * storedParts / (2 * w.stages); part < len(l.Stored) {
				m.x[i][j] = l.Stored[part]
			}
		}
	}
	m.given = true
	m.pass(min(away, 24*60))
	m.age = 0
	m.eachAnswer(func(_ *filter, a *answer, _, loss, d int) {
		a.x = state{m.heat[loss][d], l.Share}
	})
	m.rank()
	m.rated, m.contact, m.jumps = l.OnMin, clamp(l.Contact, leastContact, mostContact), l.Jumps
	if l.WasC != 0 {
		m.need = need{since: settleMinutes + 1, was: l.Was, c: l.WasC, slow: l.Share, gap: l.GapC, used: l.UsedPart}
	}
}
