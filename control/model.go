package control

import (
	"math"
	"slices"
)

// A model is what the thermostat and the guard both know of the vessel. It
// asks one thing of every reading: how much of it answers to the heat given?
// Without heat a temperature is a level with a trend, pulled towards the room
// at a rate of loss,
//
//	dT/dt = s − a·(T − T0)
//
// where s wanders. Heat adds b·x, with x the share of full power that reaches
// the probe after a delay. For each of a few losses a, delays d and sizes of
// wander, a Kalman filter of two states (T, s) foretells the readings. It is
// linear, so the same filter run over the heat alone gives the part of every
// innovation that a unit of b explains, and b is a weighted least-squares fit
// of innovations on those parts. How well a candidate foretells is its weight.
//
// Two hypotheses are compared all the time: the probe answers to the heat
// (contact), and it does not (room air, a reading that stands still, a mat
// without power). The logarithm of their odds is the evidence.
//
// A model is a value: copying it copies all it knows. Rates are per minute,
// temperatures in °C.
type model struct {
	begun   bool
	t0      float64     // the first temperature, to which losses refer
	sum     float64     // of the readings in the present minute
	n       float64     // their number
	age     float64     // minutes since the filters were last brought forward
	x       [nDelay]lag // heat on its way as commanded
	on      bool        // as commanded
	cand    [nWander][nLoss]filter
	regime  [nWander]float64 // log odds of each wander against the likeliest
	contact float64          // log odds that the probe answers to the heat
	given   bool             // there was heat since the start
	rated   float64          // on-minutes since the start
	last    float64          // the last minute's mean
	need    need
	roomC   float64 // what a probe in the room says
	roomOK  bool
	jumps   float64 // recently
	offset  float64 // share that the forecast was short of in the long run
}

// The grid of candidates. Wanders are, in this order, those of a covered
// vessel, of a vessel in draughts, of room air, and of air near a radiator or a
// door: steps of the level and of
// the trend by the square root of a minute (guesses, checked by the tests).
const nWander, nLoss, nDelay = 3, 5, 9

var (
	levelStep = [nWander]float64{0.004, 0.015, 0.07}
	trendStep = [nWander]float64{0.0004, 0.002, 0.006}
	losses    = [nLoss]float64{1.0 / 400, 1.0 / 150, 1.0 / 60, 1.0 / 25, 1.0 / 12}
	delays    = [nDelay]float64{1, 1.6, 2.5, 4, 6, 9, 13, 19, 28}
)

// minuteSigma is the error of the mean of a minute's readings: a DS18B20's
// steps of 1/16 °C (data sheet) and as much noise.
const minuteSigma = 0.025

// lag is a chain of equal lags; what leaves the last one has arrived. Three
// give a response that begins flat, as real ones do.
type lag [10]float64

// pass moves the chain on by h minutes with on-share u.
func (x *lag) pass(h, delay, u float64) {
	k := 1 - math.Exp(-float64(len(x))*h/delay)
	in := u
	for i := range x {
		was := x[i]
		x[i] += k * (in - x[i])
		in = (was + x[i]) / 2
	}
}

// arrives is the share that arrives now.
func (x *lag) arrives() float64 { return x[len(x)-1] }

// stored is for how many minutes at full power the heat in the chain would do.
func (x *lag) stored(delay float64) (minutes float64) {
	for _, part := range x {
		minutes += part * delay / float64(len(x))
	}
	return minutes
}

// filter is one wander and one loss: a filter over the readings, and for each
// delay what it makes of the heat.
type filter struct {
	t, s          float64
	ptt, pts, pss float64
	deaf          float64 // log-likelihood of the readings without heat, slowly forgotten
	ans           [nDelay]answer
}

// answer is what is known of the heat for one delay.
type answer struct {
	heat       trace
	info, pull float64 // of the fit: Σ r²/S and Σ r·e/S
	score      float64 // log-likelihood of the readings with heat
}

// trace is a unit of heat as the vessel would feel it, and as the filter
// follows it.
type trace struct{ h, t, s float64 }

// Beliefs before any reading about b, °C a minute (guess): a mat of 20 W
// under a kilogram gives 0.2, and three quarters of what is seen lie below
// twice that.
const priorB, priorSigmaB, leastB = 0.15, 0.25, 0.03

// rate is the fitted b and its variance.
func (a *answer) rate() (b, v float64) {
	info := a.info + 1/(priorSigmaB*priorSigmaB)
	return math.Max((a.pull+priorB/(priorSigmaB*priorSigmaB))/info, leastB), 1 / info
}

// sureB is how sure of b a fit may be, as a share of it, and firmB how far the
// same mat may differ from pulse to pulse: contents settle, cores warm (guesses).
const sureB, firmB = 0.05, 0.3

// fit takes in one innovation e, of which a unit of b explains r. A fit that is
// surer than it may be forgets.
func (a *answer) fit(e, r, s2, trust float64) {
	b, _ := a.rate()
	odd := 3 * math.Sqrt(s2) // what a draught does must not be laid to the mat
	e = b*r + clamp(e-b*r, -odd, odd)
	a.info, a.pull = a.info+trust*r*r/s2, a.pull+trust*r*e/s2
	if most := 1 / sq(sureB*b); a.info > most {
		a.pull *= most / a.info
		a.info = most
	}
}

// switched notes what the mat is told.
func (m *model) switched(on bool) { m.on = on }

// eachAnswer calls f for every candidate.
func (m *model) eachAnswer(f func(f *filter, a *answer, l, d int)) {
	for w := range m.cand {
		for l := range m.cand[w] {
			for d := range m.cand[w][l].ans {
				f(&m.cand[w][l], &m.cand[w][l].ans[d], l, d)
			}
		}
	}
}

// pass lets dt minutes go by.
func (m *model) pass(dt float64) {
	if !m.begun {
		return
	}
	m.age += dt
	m.jumps *= math.Exp(-dt / jumpMinutes)
	u := 0.0
	if m.on {
		u = 1
		m.given = true
		m.rated += dt
		m.contact *= math.Exp(-dt / evidenceMinutes)
	}
	for dt > 1e-9 {
		h := math.Min(dt, 0.5)
		var mean [nDelay]float64
		for d, delay := range delays {
			was := m.x[d].arrives()
			m.x[d].pass(h, delay, u)
			mean[d] = (was + m.x[d].arrives()) / 2
		}
		m.eachAnswer(func(_ *filter, a *answer, l, d int) {
			a.heat.h += h * (mean[d] - losses[l]*a.heat.h)
		})
		dt -= h
	}
}

// read takes a reading. A whole minute's mean is weighed at once.
func (m *model) read(c float64) {
	if !m.begun {
		m.begin(c)
		return
	}
	m.sum, m.n = m.sum+c, m.n+1
	if m.age < 1 {
		return
	}
	m.last = m.sum / m.n
	m.weigh(m.last, m.age)
	m.sum, m.n, m.age = 0, 0, 0
}

// begin places every filter at the first reading.
func (m *model) begin(c float64) {
	m.begun, m.t0, m.last = true, c, c
	for w := range m.cand {
		for l := range m.cand[w] {
			f := &m.cand[w][l]
			f.t, f.ptt, f.pss = c, sq(minuteSigma), sq(0.1)
		}
	}
}

// evidence says what is likely enough to act on.
func (m *model) evidence(set float64, wary bool) (e evidence) {
	n := &m.need
	limit := spentC
	if n.wary = wary; wary {
		limit = waryC
	}
	n.set = math.Max(n.set, set)
	if m.roomOK && m.last < set+0.5 && m.last+n.gap >= n.set+limit {
		e |= spent
	}
	if n.since > 0 && math.Max(n.more, (n.slow-n.was)*reachC) < waryC {
		e |= agrees
	}
	if m.contact >= answersAt && m.jumps < manyJumps {
		e |= answers
	}
	if m.known() && m.jumps > movedJumps && m.contact < answersAt {
		e |= moved
	}
	if m.known() && m.rate() >= quickRate {
		e |= quick
	}
	if m.contact <= deafAt || m.jumps >= manyJumps {
		e |= deaf
	}
	return e
}

// How far the odds must lie before the guard acts, in natural logarithms
// (guesses): 150 to 1 for an answer and 20 to 1 against one, since a look costs
// little.
const answersAt, deafAt = 5, -3

// A reading that leapt within the last two and a half hours is taken for moved,
// and a mat that warms its vessel by 2 °C in a trial of 15 min for quick
// (guesses).
const movedJumps, quickRate = 0.3, 2.0 / 15

func sq(v float64) float64 { return v * v }

// evidenceMinutes is the on-time over which evidence fades: heat must go on
// being answered (guess).
const evidenceMinutes = 60

// The bounds of the evidence, in natural logarithms, so that years of good
// answers do not outweigh the last hour (guesses).
const mostContact, leastContact = 12, -8

// forgetMinutes is how long a candidate's record counts, and trustAt how far
// the odds may lie against contact before b is learnt no more (guesses).
const forgetMinutes, trustAt = 180, 2

// surely bounds how sure it may be that a calm hour, or a rough one, lasts
// another minute: 150 to 1 (guess).
const surely = 5

// jumpC is a step between two minutes that no vessel makes: it was fed, or
// its probe was moved (guess).
const jumpC, jumpMinutes, manyJumps = 0.6, 120, 2.5

// weigh brings all filters forward by dt minutes and weighs them by y.
func (m *model) weigh(y, dt float64) {
	if m.jumped(y) {
		m.jump(y)
		return
	}
	var in, out, heatedBy, deafBy [nWander][nLoss]float64
	keep := math.Exp(-dt / forgetMinutes)
	trust := 1 / (1 + math.Exp(m.doubtful()-m.contact)) // what does not answer teaches nothing about the mat
	var regime [nWander]float64
	for w := range m.cand {
		for l := range m.cand[w] {
			f := &m.cand[w][l]
			heatedBy[w][l], deafBy[w][l] = f.best(), f.deaf
			in[w][l], out[w][l] = f.weigh(m.t0, y, dt, losses[l], levelStep[w], trendStep[w], keep, trust)
		}
		likely := math.Max(share(&heatedBy[w], &in[w]), share(&deafBy[w], &out[w]))
		regime[w] = math.Exp(m.regime[w])
		m.regime[w] += math.Log(likely + 1e-12)
	}
	for w, most := 0, slices.Max(m.regime[:]); w < nWander; w++ {
		m.regime[w] = math.Max(m.regime[w]-most, -surely)
	}
	if !m.given {
		return
	}
	m.note(dt)
	heated, deaf := mix(&heatedBy, &in, regime), mix(&deafBy, &out, regime)
	m.contact = clamp(m.contact+heated-deaf, leastContact, mostContact)
}

// doubtful is how far the odds must lie for contact before half of what is seen
// is learnt: little as long as nothing is known, and more of a mat that is.
func (m *model) doubtful() float64 {
	if m.known() {
		return knownAt
	}
	return -trustAt
}

// known reports whether the mat has been seen to heat for long enough.
func (m *model) known() bool { return m.rated > knownMinutes }

// sankC is how far below its setpoint a vessel that was held has sunk when its
// mat gives no heat (guess).
const sankC = 1.5

// likely says what a missing answer probably comes from; "" if nothing tells. A
// probe that slips out leaps to the air's temperature, and a vessel whose mat
// has no power sinks slowly.
func (m *model) likely(set float64) string {
	switch {
	case !m.known():
		return ""
	case m.jumps > movedJumps:
		return "the reading leapt: the probe has probably slipped out"
	case m.last < set-sankC:
		return "the reading sank slowly: the mat probably gives no heat"
	}
	return ""
}

// knownMinutes is the on-time after which a mat is known, and knownAt the odds
// that are then asked for (guesses).
const knownMinutes, knownAt = 60, 4

// share turns scores into weights that add up to one, and returns the mean
// likelihood under them.
func share(score, likely *[nLoss]float64) (mean float64) {
	most, sum := slices.Max(score[:]), 0.0
	for l := range score {
		score[l] = math.Exp(score[l]-most) + 0.01
		sum += score[l]
	}
	for l := range score {
		score[l] /= sum
		mean += score[l] * math.Exp(likely[l])
	}
	return mean
}

// mix is the log-likelihood under all losses by their weights, and under all
// wanders by those of the regime.
func mix(weight, likely *[nWander][nLoss]float64, regime [nWander]float64) float64 {
	sum, all := 0.0, 0.0
	for w := range weight {
		all += regime[w]
		for l := range weight[w] {
			sum += regime[w] * weight[w][l] * math.Exp(likely[w][l])
		}
	}
	return math.Log(sum/all + 1e-12)
}

func clamp(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }

// best is the greatest score of a filter's answers.
func (f *filter) best() float64 {
	best := math.Inf(-1)
	for d := range f.ans {
		best = math.Max(best, f.ans[d].score)
	}
	return best
}

// weigh is one filter's step. It returns the log-likelihoods of y with heat
// and without.
func (f *filter) weigh(t0, y, dt, loss, level, trend, keep, trust float64) (in, out float64) {
	k := 1 - math.Exp(-loss*dt)
	g := k / loss // of the trend over dt
	move := func(t, s, t0 float64) float64 { return t - k*(t-t0) + g*s }
	// The covariance moves on.
	j := 1 - k
	ptt := j*j*f.ptt + 2*j*g*f.pts + g*g*f.pss + dt*sq(level)
	pts := j*f.pts + g*f.pss
	pss := f.pss + dt*sq(trend)
	s2 := ptt + sq(minuteSigma)
	kt, ks := ptt/s2, pts/s2
	f.ptt, f.pts, f.pss = ptt*(1-kt), pts*(1-kt), pss-ks*pts

	f.t = move(f.t, f.s, t0)
	e := y - f.t
	f.t, f.s = f.t+kt*e, f.s+ks*e
	out = logNormal(e, s2)
	f.deaf = keep*f.deaf + out
	var w [nDelay]float64
	most := math.Inf(-1)
	for d := range f.ans {
		most = math.Max(most, f.ans[d].score)
	}
	sum, sumIn := 0.0, 0.0
	for d := range f.ans {
		a := &f.ans[d]
		w[d] = math.Exp(a.score-most) + 0.003
		r := a.heat.follow(move, kt, ks)
		b, v := a.rate()
		v += sq(firmB * b)
		li := logNormal(e-b*r, s2+v*r*r)
		sum += w[d]
		sumIn += w[d] * math.Exp(li)
		a.score = keep*a.score + li
		a.fit(e, r, s2, trust)
	}
	return math.Log(sumIn/sum + 1e-12), out
}

// follow brings a trace's filter forward and returns its innovation.
func (c *trace) follow(move func(t, s, t0 float64) float64, kt, ks float64) float64 {
	c.t = move(c.t, c.s, 0)
	r := c.h - c.t
	c.t, c.s = c.t+kt*r, c.s+ks*r
	return r
}

// logNormal is the logarithm of a normal density, with tails thick enough that
// one odd minute decides nothing.
func logNormal(e, v float64) float64 {
	return -0.5 * (math.Min(e*e/v, 16) + math.Log(v))
}

// jumped reports whether no filter can have foretold y.
func (m *model) jumped(y float64) bool {
	rate := m.rate()
	for w := range m.cand {
		for l := range m.cand[w] {
			f := &m.cand[w][l]
			if math.Abs(y-f.t) < (jumpC+2*rate)*math.Max(m.age, 1) {
				return false
			}
		}
	}
	return true
}

// jump puts every filter where the reading is. What was learnt of the mat
// stays; that the probe answers must be shown again.
func (m *model) jump(y float64) {
	for w := range m.cand {
		for l := range m.cand[w] {
			f := &m.cand[w][l]
			f.t, f.ptt, f.pts = y, sq(minuteSigma), 0
			for d := range f.ans {
				a := &f.ans[d]
				a.heat.t = a.heat.h
			}
		}
	}
	m.contact = math.Min(m.contact, 0)
	m.jumps++
}
