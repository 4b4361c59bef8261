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
// where s wanders. Contents that are not of one temperature yet, as after a feed,
// pull for a while as well (filter.go). Heat adds b·x, with x the share of full power that reaches
// the probe after a delay. For each of a few losses a, delays d and sizes of
// wander, a Kalman filter foretells the readings. It is
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
	t0      float64              // the first temperature, to which losses refer
	sum     float64              // of the readings in the present minute
	n       float64              // their number
	age     float64              // minutes since the filters were last brought forward
	x       [nWay]lag            // heat on its way as commanded
	heat    [nLoss][nWay]float64 // what a unit of heat would have warmed the vessel by
	on      bool                 // as commanded
	top     []belief             // the likeliest candidates
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

// newlyFilledC is by how much a core may differ from the rest at the start (guess).
const newlyFilledC = 3.0

// minuteVar is the variance of the mean of a minute's readings: that of a
// DS18B20's steps of 1/16 °C (data sheet), and noise of as much.
const minuteVar = 2 * (1.0 / 16) * (1.0 / 16) / 12

// leastWeight keeps a candidate in the race that has foretold badly (guess).
const leastWeight = 0.01

// switched notes what the mat is told.
func (m *model) switched(on bool) { m.on = on }

// eachAnswer calls f for every candidate.
func (m *model) eachAnswer(f func(f *filter, a *answer, w, l, d int)) {
	for w := range m.cand {
		for l := range m.cand[w] {
			for d := range m.cand[w][l].ans {
				f(&m.cand[w][l], &m.cand[w][l].ans[d], w, l, d)
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
		m.contact *= math.Exp(-dt / knownMinutes)
	}
	for dt > 1e-9 {
		h := math.Min(dt, shortestStage)
		for d := range ways {
			in := m.x[d].pass(ways[d], h, u)
			for l := range losses {
				m.heat[l][d] += h * (in - losses[l]*m.heat[l][d])
			}
		}
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
			f.x[temp], f.unheated[temp] = c, c
			f.cov = cov{{minuteVar}, {0, sq(priorB)}, {0, 0, sq(newlyFilledC / coreMinutes)}}
		}
	}
	m.rank()
}

// weigh brings all filters forward by dt minutes and weighs them by y.
func (m *model) weigh(y, dt float64) {
	var in, out, heatedBy, deafBy [nWander][nLoss]float64
	keep := math.Exp(-dt / forgetMinutes)
	trust := 1 / (1 + math.Exp(m.doubtful()-m.contact)) // what does not answer teaches nothing about the mat
	var regime [nWander]float64
	for w := range m.cand {
		for l := range m.cand[w] {
			f := &m.cand[w][l]
			heatedBy[w][l], deafBy[w][l] = f.best(), f.deaf
			in[w][l], out[w][l] = f.weigh(&m.heat[l], m.t0, y, dt, losses[l], levelStep[w], keep, trust)
		}
		likely := math.Max(share(&heatedBy[w], &in[w]), share(&deafBy[w], &out[w]))
		regime[w] = math.Exp(m.regime[w])
		m.regime[w] += math.Log(likely)
	}
	for w, most := 0, slices.Max(m.regime[:]); w < nWander; w++ {
		m.regime[w] = math.Max(m.regime[w]-most, -sure)
	}
	m.rank()
	if !m.given {
		return
	}
	m.note(dt)
	heated, deaf := mix(&heatedBy, &in, regime), mix(&deafBy, &out, regime)
	m.contact = clamp(m.contact+heated-deaf, leastContact, mostContact)
	if m.leapt(dt) {
		m.leap(y)
	}
}

// share turns scores into weights that add up to one, and returns the mean
// likelihood under them.
func share(score, likely *[nLoss]float64) (mean float64) {
	most, sum := slices.Max(score[:]), 0.0
	for l := range score {
		score[l] = math.Exp(score[l]-most) + leastWeight
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
	return math.Log(sum / all)
}

func clamp(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }

// leapt reports whether no filter has foretold the last minutes: the probe was
// moved, or the vessel was fed. A probe takes minutes to arrive at what it reads.
func (m *model) leapt(dt float64) bool {
	far := 2 * nearC
	if !m.known() {
		far += 2 * m.rate() // the first heat surprises too
	}
	for w := range m.cand {
		for l := range m.cand[w] {
			if math.Abs(m.cand[w][l].surprise) < far*math.Max(dt, 1) {
				return false
			}
		}
	}
	return true
}

// leap puts every filter where the reading is. What was learnt of the mat stays;
// how calm it is there is open, and that the probe answers must be shown again.
func (m *model) leap(y float64) {
	for w := range m.cand {
		for l := range m.cand[w] {
			f := &m.cand[w][l]
			f.leap(y, losses[l]*(y-m.t0))
			for d := range f.ans {
				f.ans[d].x[temp] = m.heat[l][d]
			}
		}
	}
	m.regime = [nWander]float64{}
	m.contact = math.Min(m.contact, 0)
	m.jumps++
}
