package control

import "math"

// A state is what a filter follows: the temperature, °C; its trend at T0
// without heat, °C a minute; and the pull of a core that is colder or warmer
// than what lies around it, °C a minute, which fades as they become alike.
type state [3]float64

// The parts of a state.
const (
	temp = iota
	trend
	core
)

// coreMinutes is in how long a core becomes like what lies around it: flour and
// water of half a kilogram to three (guess).
const coreMinutes = 10

// oddTimes is how many standard deviations make a step (common practice).
const oddTimes = 3

// motion is how states move over one weighing: the share of the excess that is
// lost, for how long trend and core pull, and what is left of the core's pull.
type motion struct{ lost, trend, core, fade float64 }

func motionOver(dt, loss float64) motion {
	lost, fade := 1-math.Exp(-loss*dt), math.Exp(-dt/coreMinutes)
	return motion{lost, lost / loss, (1 - fade) * coreMinutes, fade}
}

// move is a state after the motion, with the loss referred to t0.
func (m motion) move(x state, t0 float64) state {
	return state{x[temp] - m.lost*(x[temp]-t0) + m.trend*x[trend] + m.core*x[core], x[trend], m.fade * x[core]}
}

// cov is the covariance of a state.
type cov [3]state

// moved is the covariance after the motion, F·P·Fᵀ.
func (m motion) moved(p cov) (to cov) {
	for range 2 {
		for i := range p {
			row := m.move(p[i], 0)
			for j := range row {
				to[j][i] = row[j]
			}
		}
		p = to
	}
	return p
}

// filter is one wander and one loss: a filter over the readings, and for each
// delay what it makes of the heat.
type filter struct {
	x        state
	unheated state // what it follows if the probe does not answer to the heat
	cov      cov
	surprise float64 // what was not foretold in the last minutes, °C
	deaf     float64 // log-likelihood of the readings without heat, slowly forgotten
	ans      [nWay]answer
}

// answer is what is known of the heat for one delay.
type answer struct {
	x          state   // a unit of heat as the filter follows it
	info, pull float64 // of the fit: Σ r²/S and Σ r·e/S
	score      float64 // log-likelihood of the readings with heat
}

// Beliefs before any reading about b, °C a minute (guess): a mat of 20 W
// under a kilogram gives 0.2, and three quarters of what is seen lie below
// twice that.
const priorB, priorSigmaB, leastB = 0.15, 0.25, priorB / 5

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
	odd := oddTimes * math.Sqrt(s2) // what a draught does must not be laid to the mat
	e = b*r + clamp(e-b*r, -odd, odd)
	a.info, a.pull = a.info+trust*r*r/s2, a.pull+trust*r*e/s2
	if most := 1 / sq(sureB*b); a.info > most {
		a.pull *= most / a.info
		a.info = most
	}
}

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
func (f *filter) weigh(heat *[nWay]float64, t0, y, dt, loss, level, keep, trust float64) (in, out float64) {
	m := motionOver(dt, loss)
	p := m.moved(f.cov)
	p[temp][temp] += dt * sq(level)
	p[trend][trend] += dt * sq(trendWander*level)
	s2 := p[temp][temp] + minuteVar
	var gain state
	for i := range gain {
		gain[i] = p[temp][i] / s2
	}
	for i := range p {
		for j := range p {
			f.cov[i][j] = p[i][j] - gain[i]*p[temp][j]
		}
	}
	f.x, f.unheated = m.move(f.x, t0), m.move(f.unheated, t0)
	e, alone := y-f.x[temp], y-f.unheated[temp]
	out = logNormal(alone, s2)
	f.deaf = keep*f.deaf + out
	in, heated := f.weighAnswers(heat, m, gain, e, s2, keep, trust)
	f.surprise = f.surprise*math.Exp(-dt/leapMinutes) + e - heated
	f.x.correct(e, heated, gain, math.Sqrt(s2))
	f.unheated.correct(alone, 0, gain, math.Sqrt(s2))
	return in, out
}

// correct moves a state by an innovation e, where the heat was expected to give
// heated. What lies far off both with heat and without is a step: contents that
// came in. It says nothing of the trend.
func (x *state) correct(e, heated float64, gain state, sd float64) {
	step := e - clamp(e, math.Min(0, heated)-oddTimes*sd, math.Max(0, heated)+oddTimes*sd)
	for i := range x {
		x[i] += gain[i] * (e - step)
	}
	x[temp] += step
}

// leap puts the temperature at y and forgets how sure it was. What answers to
// the heat will be cooled and heated as before; what does not may be anything,
// and at first it is taken for level: the room's air, with a trend of level.
func (f *filter) leap(y, level float64) {
	f.x[temp], f.unheated, f.surprise = y, state{y, level}, 0
	for i := range f.cov {
		f.cov[temp][i], f.cov[i][temp] = 0, 0
	}
	f.cov[temp][temp] = minuteVar
}

// weighAnswers lets every answer foretell the innovation e. It returns the
// log-likelihood under all of them, and what they expect of the heat.
func (f *filter) weighAnswers(heat *[nWay]float64, m motion, gain state, e, s2, keep, trust float64) (in, heated float64) {
	most, sum, sumIn := f.best(), 0.0, 0.0
	for d := range f.ans {
		a := &f.ans[d]
		w := math.Exp(a.score-most) + leastWeight
		r := a.follow(heat[d], m, gain)
		b, v := a.rate()
		v += sq(firmB * b)
		li := logNormal(e-b*r, s2+v*r*r)
		sum += w
		sumIn += w * math.Exp(li)
		heated += w * b * r
		a.score = keep*a.score + li
		a.fit(e, r, s2, trust)
	}
	return math.Log(sumIn / sum), heated / sum
}

// follow brings a unit of heat forward, that should have warmed the vessel by
// h, and returns its innovation.
func (a *answer) follow(h float64, m motion, gain state) float64 {
	a.x = m.move(a.x, 0)
	r := h - a.x[temp]
	for i := range a.x {
		a.x[i] += gain[i] * r
	}
	return r
}

// logNormal is the logarithm of a normal density, with tails thick enough that
// one odd minute decides nothing.
func logNormal(e, v float64) float64 {
	return -0.5 * (math.Min(e*e/v, 16) + math.Log(v))
}
