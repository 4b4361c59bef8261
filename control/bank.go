package control

import (
	"cmp"
	"math"
	"slices"
)

// A bank is how the thermostat learns a mat online. Heat takes its way from
// the wire through mat, board and glass before a probe feels it, and then the
// vessel stores it and loses it. Each candidate of the bank supposes one delay
// for that way, a chain of three equal lags, and learns the rest by an
// extended Kalman filter:
//
//	dT/dt = b·x − a·(T − T0) + c
//
// with x the delayed on-share, b the rate of heating at full power, a the
// rate of loss, and c whatever else warms or cools: the room, a door, the
// dough. How well each candidate foretold the readings decides how much it is
// believed. Rates are per minute; temperatures in °C.
type bank struct {
	models []model
	t0     float64 // the first temperature, to which a and c refer
	hold   bool    // the vessel is near its setpoint: what is learnt of losses stays as it is
	onMin  float64 // minutes of on-time seen
	upset  float64 // minutes for which readings still tell of a feed and not of the mat
}

// delays are the candidates' delays in minutes: a mat under bare glass answers
// within one, three kilograms on a board and a towel take half an hour.
func delays() []float64 { return []float64{0.7, 1.2, 2, 3, 4.5, 6.5, 9, 12, 16, 21, 28, 37} }

// stages is in how many lags a delay is split. Three give a response that
// begins flat, as real ones do.
const stages = 3

// The filter's state.
const (
	iT = iota // temperature
	iB        // °C a minute at full power
	iA        // 1 a minute
	iC        // °C a minute
	nState
)

// model is one candidate.
type model struct {
	delay float64         // of the whole chain, minutes
	x     [stages]float64 // what each lag holds, as an on-share
	m     [nState]float64
	p     [nState][nState]float64
	score float64 // log-likelihood of the readings, slowly forgotten
}

// Noise the filters reckon with. Quantisation and the probe's own noise come
// to 0.04 °C a reading but are no white noise, so twice that is assumed.
const (
	readingSigma = 0.08
	forget       = 0.9997 // of the score, a reading: half is forgotten in about six hours
)

// newBank starts from broad beliefs: 0.5 to 60 °C an hour of heating, losses
// with a time constant of a quarter of an hour to a day.
func newBank(c float64) *bank {
	b := &bank{t0: c}
	for _, d := range delays() {
		m := model{delay: d}
		// What is far from its mat is heavy: a long delay goes with a slow rise.
		m.m = [nState]float64{c, math.Min(0.15, 1/d), 0.006, 0}
		m.p[iT][iT], m.p[iB][iB], m.p[iA][iA], m.p[iC][iC] = 0.01, sq(math.Min(0.4, 1.5/d)), sq(0.012), sq(0.05)
		b.models = append(b.models, m)
	}
	return b
}

func sq(v float64) float64 { return v * v }

// pass lets dt minutes go by with the mat on or off.
func (b *bank) pass(dt float64, on bool) {
	u := 0.0
	if on {
		u = 1
		b.onMin += dt
	}
	b.upset = math.Max(b.upset-dt, 0)
	for dt > 1e-9 {
		h := math.Min(dt, 1.0/6)
		for i := range b.models {
			b.models[i].pass(h, u, b.t0)
		}
		dt -= h
	}
}

// recall puts what was learnt before a restart in place of the first beliefs:
// surer, but still open, for the vessel may be another one.
func (b *bank) recall(l Learnt) {
	if !l.ok() {
		return
	}
	for i := range b.models {
		m := &b.models[i]
		m.score = -2 * math.Abs(math.Log(m.delay/l.DelayMin))
		m.m[iB], m.m[iA] = l.RateCMin, l.LossMin
		m.p[iB][iB], m.p[iA][iA] = sq(l.RateCMin/2), sq(l.LossMin/2)
	}
}

// learnt is what the most believed candidate says, coarsely, so that it does
// not have to be stored every minute.
func (b *bank) learnt() Learnt {
	if b.onMin < expectMinutes {
		return Learnt{}
	}
	best := &b.models[0]
	for i := range b.models {
		if b.models[i].score > best.score {
			best = &b.models[i]
		}
	}
	return Learnt{best.delay, coarse(best.m[iB]), coarse(best.m[iA])}
}

// coarse rounds to steps of a quarter.
func coarse(v float64) float64 {
	return math.Pow(1.25, math.Round(math.Log(v)/math.Log(1.25)))
}

// refer moves T0 to where the vessel is. The model stays the same; but near T0
// a reading says little about a, and so a long quiet hold cannot wear away
// what the ramp has taught.
func (b *bank) refer(c float64) {
	d := c - b.t0
	if math.Abs(d) < 0.5 {
		return
	}
	b.t0 = c
	for i := range b.models {
		m := &b.models[i]
		m.m[iC] -= d * m.m[iA]
		for j := range nState {
			m.p[iC][j] -= d * m.p[iA][j]
		}
		for j := range nState {
			m.p[j][iC] -= d * m.p[j][iA]
		}
	}
}

// A vessel that moves by feedC between two readings, against what every
// candidate foretold, has been fed, or its probe was moved: no mat and no room
// does that. For upsetMinutes, until probe and glass have come along, readings
// then say where the vessel is and nothing about what warms or cools it.
const (
	feedC        = 0.35
	upsetMinutes = 6
)

// fed reports whether a reading tells of new contents rather than of warmth.
func (b *bank) fed(c float64) bool {
	for i := range b.models {
		if math.Abs(c-b.models[i].m[iT]) < feedC {
			return false
		}
	}
	return true
}

// read weighs every candidate by a reading.
func (b *bank) read(c float64) {
	b.refer(c)
	if b.fed(c) {
		b.upset = upsetMinutes
	}
	if b.upset > 0 {
		for i := range b.models {
			b.models[i].place(c)
		}
		return
	}
	best := math.Inf(-1)
	for i := range b.models {
		b.models[i].read(c, b.hold)
		best = math.Max(best, b.models[i].score)
	}
	for i := range b.models {
		b.models[i].score -= best
	}
}

// heat moves the chain on by h minutes with on-share u.
func heat(x *[stages]float64, h, delay, u float64) {
	k := 1 - math.Exp(-h*stages/delay)
	in := u
	for i := range x {
		was := x[i]
		x[i] += k * (in - x[i])
		in = (was + x[i]) / 2
	}
}

// pass is the filter's prediction.
func (m *model) pass(h, u, t0 float64) {
	heat(&m.x, h, m.delay, u)
	x, d := m.x[stages-1], m.m[iT]-t0
	m.m[iT] += h * (m.m[iB]*x - m.m[iA]*d + m.m[iC])
	// F is the identity but for its first row.
	f := [nState]float64{1 - h*m.m[iA], h * x, -h * d, h}
	var row [nState]float64
	for j := range row {
		for k := range f {
			row[j] += f[k] * m.p[k][j]
		}
	}
	var tt float64
	for k := range f {
		tt += row[k] * f[k]
	}
	for j := 1; j < nState; j++ {
		m.p[iT][j], m.p[j][iT] = row[j], row[j]
	}
	m.p[iT][iT] = tt + h*sq(0.01)
	m.p[iB][iB] += h * sq(0.004*m.m[iB])
	m.p[iA][iA] += h * sq(0.004*m.m[iA])
	m.p[iC][iC] += h * sq(0.0015+0.15*m.m[iA])
}

// place puts the vessel where a reading says it is. What was learnt stays, but
// for how sure it is: other contents heat and cool at another rate.
func (m *model) place(c float64) {
	m.m[iT] = c
	for i := range m.p {
		m.p[iT][i], m.p[i][iT] = 0, 0
	}
	m.p[iT][iT] = sq(readingSigma)
	m.p[iB][iB] = math.Max(m.p[iB][iB], sq(0.15*m.m[iB]))
}

// read is the filter's correction. While the vessel is held, what looks like
// a loss is mostly the probe's lag: then a is left as it is, and the
// covariance is brought forward by the form that allows for any gain
// (Joseph's).
func (m *model) read(c float64, hold bool) {
	s := m.p[iT][iT] + sq(readingSigma)
	e := c - m.m[iT]
	m.score = forget*m.score - 0.5*(e*e/s+math.Log(s))
	var k [nState]float64
	was := m.p[iT]
	for i := range k {
		k[i] = was[i] / s
	}
	if hold {
		k[iA] = 0
	}
	for i := range k {
		m.m[i] += k[i] * e
		for j := range k {
			m.p[i][j] += k[i]*k[j]*s - k[i]*was[j] - was[i]*k[j]
		}
	}
	m.m[iB] = math.Max(m.m[iB], 0.003)
	m.m[iA] = math.Min(math.Max(m.m[iA], 0.0003), 0.15)
}

// course is a forecast of one candidate.
type course struct {
	x [stages]float64
	c float64
	m *model
}

// from begins a forecast at the present.
func (m *model) from() course { return course{x: m.x, c: m.m[iT], m: m} }

// pass moves a forecast on.
func (f *course) pass(h, u, t0 float64) {
	heat(&f.x, h, f.m.delay, u)
	f.c += h * (f.m.m[iB]*f.x[stages-1] - f.m.m[iA]*(f.c-t0) + f.m.m[iC])
}

// believed calls f for every candidate that is worth asking, with its weight;
// the weights add up to one.
func (b *bank) believed(f func(m *model, weight float64)) {
	sum := 0.0
	for i := range b.models {
		if b.models[i].score > -5 {
			sum += math.Exp(b.models[i].score)
		}
	}
	for i := range b.models {
		if s := b.models[i].score; s > -5 {
			f(&b.models[i], math.Exp(s)/sum)
		}
	}
}

// outlook is what the bank foretells for a mat that is off from now on.
type outlook struct {
	high    float64 // the highest temperature to come
	surely  float64 // what most of the belief says it will be at least
	surplus float64 // how far the trough at the end of the pause lies above where a steady hold would have it
}

// ahead foretells what comes if the mat is off from now on. The trough is
// looked at when heat given after the pause would be felt, and compared with
// the trough of a vessel that is held at set by one pulse in each cycle.
func (b *bank) ahead(pause, cycle, set float64) (o outlook) {
	type claim struct{ high, weight float64 }
	var claims []claim
	b.believed(func(m *model, w float64) {
		f := m.from()
		high := f.c
		const dt = 0.5
		trough := pause + felt*m.delay
		end := f.c
		for t := 0.0; t < trough+m.delay; t += dt {
			f.pass(dt, 0, b.t0)
			high = math.Max(high, f.c)
			if t < trough {
				end = f.c
			}
		}
		o.high += w * high
		o.surplus += w * (end - (set - m.dip(cycle, set, b.t0)))
		claims = append(claims, claim{high, w})
	})
	slices.SortFunc(claims, func(x, y claim) int { return cmp.Compare(x.high, y.high) })
	for sum, i := 0.0, 0; i < len(claims) && sum < 0.2; i++ {
		o.surely = claims[i].high
		sum += claims[i].weight
	}
	return o
}

// felt is after what part of a delay new heat begins to be felt.
const felt = 0.6

// dip is how far below its mean a vessel lies when the heat of the next pulse
// is about to be felt, if it is held at set by one pulse in each cycle.
func (m *model) dip(cycle, set, t0 float64) float64 {
	u := m.share(set, t0)
	f := course{c: set, m: m}
	for i := range f.x {
		f.x[i] = u
	}
	const dt = 0.5
	last := cycle * (2 + math.Ceil(m.delay/cycle))
	sum, n := 0.0, 0.0
	for t := 0.0; t < last+felt*m.delay; t += dt {
		on := 0.0
		if math.Mod(t, cycle) < u*cycle {
			on = 1
		}
		f.pass(dt, on, t0)
		if t >= last+felt*m.delay-cycle {
			sum += f.c
			n++
		}
	}
	return math.Max(sum/n-f.c, 0)
}

// share is the on-share that holds set.
func (m *model) share(set, t0 float64) float64 {
	return math.Min(math.Max((m.m[iA]*(set-t0)-m.m[iC])/m.m[iB], 0), 1)
}

// rate is how fast full power warms the vessel, °C a minute.
func (b *bank) rate() (r float64) {
	b.believed(func(m *model, w float64) { r += w * m.m[iB] })
	return r
}

// ceiling is where full power would level off.
func (b *bank) ceiling() float64 {
	sum := 0.0
	b.believed(func(m *model, w float64) {
		sum += w * (b.t0 + (m.m[iB]+m.m[iC])/m.m[iA])
	})
	return sum
}
