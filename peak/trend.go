package peak

import "math"

// track is one Kalman filter for height, speed and acceleration (mm, hours).
// Its two numbers say how rough a curve it believes in.
type track struct {
	qSpeed float64 // (mm/h)²/h: how fast the speed wanders by itself
	qAccel float64 // (mm/h²)²/h: how fast the acceleration wanders
	x      [3]float64
	p      [6]float64 // symmetric: hh hs ha ss sa aa
	logW   float64    // discounted log evidence
	w      float64    // the same as a share of all tracks
}

// predict moves the track dt hours on.
func (t *track) predict(dt float64) {
	h := dt * dt / 2
	x, p := &t.x, &t.p
	x[0] += x[1]*dt + x[2]*h
	x[1] += x[2] * dt
	hh, hs, ha, ss, sa, aa := p[0], p[1], p[2], p[3], p[4], p[5]
	p[0] = hh + 2*dt*hs + 2*h*ha + dt*dt*ss + 2*dt*h*sa + h*h*aa
	p[1] = hs + dt*(ss+ha) + (h+dt*dt)*sa + h*dt*aa
	p[2] = ha + dt*sa + h*aa
	p[3] = ss + 2*dt*sa + dt*dt*aa
	p[4] = sa + dt*aa
	dt2, dt3 := dt*dt, dt*dt*dt
	p[0] += t.qSpeed*dt3/3 + t.qAccel*dt2*dt3/20
	p[1] += t.qSpeed*dt2/2 + t.qAccel*dt2*dt2/8
	p[2] += t.qAccel * dt3 / 6
	p[3] += t.qSpeed*dt + t.qAccel*dt3/3
	p[4] += t.qAccel * dt2 / 2
	p[5] += t.qAccel * dt
}

// update takes in a height with variance r and returns the log density that
// the track gave it.
func (t *track) update(z, r float64) float64 {
	p := &t.p
	s := p[0] + r
	e := z - t.x[0]
	k0, k1, k2 := p[0]/s, p[1]/s, p[2]/s
	t.x[0] += k0 * e
	t.x[1] += k1 * e
	t.x[2] += k2 * e
	hh, hs, ha := p[0], p[1], p[2]
	p[0] -= k0 * hh
	p[1] -= k0 * hs
	p[2] -= k0 * ha
	p[3] -= k1 * hs
	p[4] -= k1 * ha
	p[5] -= k2 * ha
	return -0.5 * (e*e/s + math.Log(s))
}

// trend is a bank of tracks, from a curve that hardly bends to one that may
// turn within minutes. Each is weighed by how well it has predicted lately,
// so that a dome is smoothed over hours and a cusp over minutes.
type trend struct {
	tracks [trackCount]track
	begun  bool
}

const (
	trackCount = 8
	steady     = 2 // the track that a usual dome rides on

	// evidenceKeep is the share of the log evidence that a minute leaves: the
	// bank remembers about an hour and a half. A guess that the synthetic
	// families do not contradict between 0.98 and 0.995.
	evidenceKeep = 0.99
)

// roughness lists the bank's members: (mm/h)²/h, (mm/h²)²/h.
var roughness = [trackCount][2]float64{
	{0, 0.1}, {0, 1}, {0, 10}, {0, 100}, {4, 10}, {40, 100}, {400, 400}, {4000, 4000},
}

// reset starts the bank at height h with variance r.
func (b *trend) reset(h, r float64) {
	for i := range b.tracks {
		b.tracks[i] = track{
			qSpeed: roughness[i][0], qAccel: roughness[i][1],
			x: [3]float64{h, 0, 0},
			p: [6]float64{r, 0, 0, 25, 0, 25},
			w: 1.0 / trackCount,
		}
	}
	b.begun = true
}

// add moves the bank by dt hours and takes in a height with variance r.
func (b *trend) add(dt, z, r float64) {
	keep := math.Pow(evidenceKeep, dt*60)
	top := math.Inf(-1)
	for i := range b.tracks {
		t := &b.tracks[i]
		t.predict(dt)
		t.logW = keep*t.logW + max(t.update(z, r), -12)
		top = max(top, t.logW)
	}
	sum := 0.0
	for i := range b.tracks {
		t := &b.tracks[i]
		t.w = math.Exp(t.logW - top)
		sum += t.w
	}
	for i := range b.tracks {
		b.tracks[i].w /= sum
		b.tracks[i].logW -= top
	}
}

// shift moves all heights by d: the jar was put back higher or lower.
func (b *trend) shift(d float64) {
	for i := range b.tracks {
		b.tracks[i].x[0] += d
	}
}

// loosen adds variance to the height, for a level that is not certain.
func (b *trend) loosen(v float64) {
	for i := range b.tracks {
		b.tracks[i].p[0] += v
	}
}

// at returns the mixture's height and its variance dt hours on.
func (b *trend) at(dt float64) (h, v float64) {
	var m2 float64
	for i := range b.tracks {
		t := &b.tracks[i]
		x := t.x[0] + t.x[1]*dt + t.x[2]*dt*dt/2
		pv := t.p[0] + 2*dt*t.p[1] + dt*dt*(t.p[2]+t.p[3]) + dt*dt*dt*t.p[4] + dt*dt*dt*dt/4*t.p[5]
		pv += t.qSpeed*dt*dt*dt/3 + t.qAccel*dt*dt*dt*dt*dt/20
		h += t.w * x
		m2 += t.w * (pv + x*x)
	}
	return h, max(m2-h*h, 0)
}

// speed returns the mixture's speed in mm/h and its standard deviation.
func (b *trend) speed() (v, sd float64) {
	var m2 float64
	for i := range b.tracks {
		t := &b.tracks[i]
		v += t.w * t.x[1]
		m2 += t.w * (t.p[3] + t.x[1]*t.x[1])
	}
	return v, math.Sqrt(max(m2-v*v, 0))
}

// falling returns the probability that the speed is below limit mm/h.
func (b *trend) falling(limit float64) float64 {
	s := 0.0
	for i := range b.tracks {
		t := &b.tracks[i]
		s += t.w * normalCDF((limit-t.x[1])/math.Sqrt(t.p[3]+1e-12))
	}
	return s
}

func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
