package peak

import "math"

// track is one Kalman filter for height, speed, acceleration and the sensor's
// wander (mm, hours). What is measured is height plus wander. Its two numbers
// say how rough a curve it believes in.
type track struct {
	qSpeed float64 // (mm/h)²/h: how fast the speed changes by itself
	qAccel float64 // (mm/h²)²/h: how fast the acceleration changes
	x      [4]float64
	p      [10]float64 // symmetric: hh hs ha hw ss sa sw aa aw ww
	logW   float64     // discounted log evidence
	w      float64     // the same as a share of all tracks
}

// The places of a track's covariances.
const (
	pHH = iota
	pHS
	pHA
	pHW
	pSS
	pSA
	pSW
	pAA
	pAW
	pWW
)

// predict moves the track dt hours on; keep is the share of the wander that is
// left by then and wander its variance.
func (t *track) predict(dt, keep, wander float64) {
	h := dt * dt / 2
	x, p := &t.x, &t.p
	x[0] += x[1]*dt + x[2]*h
	x[1] += x[2] * dt
	x[3] *= keep
	hh, hs, ha, ss, sa, aa := p[pHH], p[pHS], p[pHA], p[pSS], p[pSA], p[pAA]
	hw, sw, aw := p[pHW], p[pSW], p[pAW]
	dt2, dt3 := dt*dt, dt*dt*dt
	p[pHH] = hh + 2*dt*hs + 2*h*ha + dt2*ss + 2*dt*h*sa + h*h*aa + t.qSpeed*dt3/3 + t.qAccel*dt2*dt3/20
	p[pHS] = hs + dt*(ss+ha) + (h+dt2)*sa + h*dt*aa + t.qSpeed*dt2/2 + t.qAccel*dt2*dt2/8
	p[pHA] = ha + dt*sa + h*aa + t.qAccel*dt3/6
	p[pSS] = ss + 2*dt*sa + dt2*aa + t.qSpeed*dt + t.qAccel*dt3/3
	p[pSA] = sa + dt*aa + t.qAccel*dt2/2
	p[pAA] = aa + t.qAccel*dt
	p[pHW] = keep * (hw + dt*sw + h*aw)
	p[pSW] = keep * (sw + dt*aw)
	p[pAW] = keep * aw
	p[pWW] = keep*keep*p[pWW] + (1-keep*keep)*wander
}

// update takes in a measured height with variance r of white noise and returns
// the log density that the track gave it.
func (t *track) update(z, r float64) float64 {
	p := &t.p
	g := [4]float64{p[pHH] + p[pHW], p[pHS] + p[pSW], p[pHA] + p[pAW], p[pHW] + p[pWW]}
	s := g[0] + g[3] + r
	e := z - t.x[0] - t.x[3]
	inv := 1 / s
	k := [4]float64{g[0] * inv, g[1] * inv, g[2] * inv, g[3] * inv}
	for i := range k {
		t.x[i] += k[i] * e
	}
	p[pHH] -= k[0] * g[0]
	p[pHS] -= k[0] * g[1]
	p[pHA] -= k[0] * g[2]
	p[pHW] -= k[0] * g[3]
	p[pSS] -= k[1] * g[1]
	p[pSA] -= k[1] * g[2]
	p[pSW] -= k[1] * g[3]
	p[pAA] -= k[2] * g[2]
	p[pAW] -= k[2] * g[3]
	p[pWW] -= k[3] * g[3]
	return -0.5 * (e*e*inv + math.Log(s))
}

// begin sets the track to a first measured height.
func (t *track) begin(z, r, wander float64) {
	const open = 1e4
	t.x = [4]float64{z, 0, 0, 0}
	t.p = [10]float64{pHH: open, pSS: 25, pAA: 25, pWW: wander}
	t.update(z, r)
	t.logW = 0
}

// trend is a bank of tracks, from a curve that hardly bends to one that may
// turn within minutes. Each is weighed by how well it has predicted recently,
// so that a dome is smoothed over hours and a cusp over minutes.
type trend struct {
	tracks [trackCount]track
	begun  bool
	now    float64 // hours of its state
	dt     float64 // hours for which keep and fade were worked out
	keep   float64 // share of the wander that is left after dt
	fade   float64 // share of the evidence that is left after dt
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

// reset starts the bank at now with a measured height z with variance r of white
// noise and wander of the sensor.
func (b *trend) reset(now, z, r, wander float64) {
	for i := range b.tracks {
		b.tracks[i] = track{qSpeed: roughness[i][0], qAccel: roughness[i][1], w: 1.0 / trackCount}
		b.tracks[i].begin(z, r, wander)
	}
	b.begun, b.now = true, now
}

// add moves the bank to now and takes in a measured height.
func (b *trend) add(now, z, r, wander float64) {
	dt := now - b.now
	b.now = now
	if dt != b.dt {
		b.dt, b.keep, b.fade = dt, wanderKeep(dt), math.Pow(evidenceKeep, dt*60)
	}
	best := math.Inf(-1)
	for i := range b.tracks {
		t := &b.tracks[i]
		t.predict(dt, b.keep, wander)
		t.logW = b.fade*t.logW + max(t.update(z, r), -12)
		best = max(best, t.logW)
	}
	sum := 0.0
	for i := range b.tracks {
		t := &b.tracks[i]
		t.logW -= best
		t.w = math.Exp(t.logW)
		sum += t.w
	}
	for i := range b.tracks {
		b.tracks[i].w /= sum
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
		b.tracks[i].p[pHH] += v
	}
}

// at returns the mixture's height and its variance dt hours on.
func (b *trend) at(dt float64) (h, v float64) {
	var m2 float64
	for i := range b.tracks {
		t := &b.tracks[i]
		x := t.x[0] + t.x[1]*dt + t.x[2]*dt*dt/2
		pv := t.p[pHH]
		if dt != 0 {
			pv += 2*dt*t.p[pHS] + dt*dt*(t.p[pHA]+t.p[pSS]) + dt*dt*dt*t.p[pSA] + dt*dt*dt*dt/4*t.p[pAA]
			pv += t.qSpeed*dt*dt*dt/3 + t.qAccel*dt*dt*dt*dt*dt/20
		}
		h += t.w * x
		m2 += t.w * (pv + x*x)
	}
	return h, max(m2-h*h, 0)
}

// expects returns the reading that the mixture expects dt hours on, with its
// variance without white noise.
func (b *trend) expects(dt, wander float64) (z, v float64) {
	keep := wanderKeep(dt)
	var m2 float64
	for i := range b.tracks {
		t := b.tracks[i]
		t.predict(dt, keep, wander)
		x := t.x[0] + t.x[3]
		z += t.w * x
		m2 += t.w * (t.p[pHH] + 2*t.p[pHW] + t.p[pWW] + x*x)
	}
	return z, max(m2-z*z, 0)
}

// speed returns the mixture's speed in mm/h and its standard deviation.
func (b *trend) speed() (v, sd float64) {
	var m2 float64
	for i := range b.tracks {
		t := &b.tracks[i]
		v += t.w * t.x[1]
		m2 += t.w * (t.p[pSS] + t.x[1]*t.x[1])
	}
	return v, math.Sqrt(max(m2-v*v, 0))
}

// falling returns the probability that the speed is below limit mm/h.
func (b *trend) falling(limit float64) float64 {
	s := 0.0
	for i := range b.tracks {
		t := &b.tracks[i]
		s += t.w * normalCDF((limit-t.x[1])/math.Sqrt(t.p[pSS]+1e-12))
	}
	return s
}

func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
