package readyby

import (
	"math"
	"time"

	"leavend/peak/timetopeak"
)

// Heat learns how a vessel on its mat warms and cools:
//
//	dT/dt = b·u − a·(T − R)
//
// with u the mat's on-share, late by the way of the heat, b its warming at
// full power, a the loss and R where the vessel settles with the mat off. It
// is a Kalman filter on windows of a quarter of an hour, and R may wander, as
// rooms do. The thermostat has a finer model of its own for switching; this
// one is for looking hours ahead. Temperatures in °C, rates per hour. The
// zero value is ready; it is not safe for concurrent use.
type Heat struct {
	begun  bool
	from   window
	at     time.Time
	tempC  float64
	late   float64 // u behind its lag
	onLate float64 // integral of late over the window, hours
	sum    float64 // integral of the temperature
	mean   [3]float64
	cov    [3][3]float64
}

// window is the beginning of a stretch of readings.
type window struct {
	at    time.Time
	tempC float64
}

// What is believed before the first reading: guesses for mats of 8 to 40 W
// below 0.2 to 3 kg, wide enough for all of them.
const (
	usualWarming = 5.0 // °C an hour at full power
	usualLoss    = 0.4 // of the excess, an hour
	usualRoomC   = 21.0
	heatLag      = 0.2 // hours from wire to probe
	windowHours  = 0.25
	rateNoise    = 0.3  // °C an hour, of a window's slope
	roomWander   = 0.25 // °C an hour of slope, in the root of an hour
	refC         = 22.0
)

// The terms of the filter: b, a, and a·(R − refC).
const (
	iWarming = iota
	iLoss
	iRoom
)

// begin sets the first beliefs.
func (h *Heat) begin() {
	if h.begun {
		return
	}
	h.begun = true
	h.mean = [3]float64{usualWarming, usualLoss, usualLoss * (usualRoomC - refC)}
	h.cov[iWarming][iWarming] = 4 * 4
	h.cov[iLoss][iLoss] = 0.25 * 0.25
	h.cov[iRoom][iRoom] = 1.5 * 1.5
}

// Observe takes a vessel's temperature and whether the mat is on from now. After
// a gap, or a jump as by a feed, it begins a new window.
func (h *Heat) Observe(at time.Time, tempC float64, on bool) {
	if math.IsNaN(tempC) || math.IsInf(tempC, 0) {
		return
	}
	h.begin()
	dt := at.Sub(h.at).Hours()
	if h.from.at.IsZero() || dt < 0 || dt > 0.1 || math.Abs(tempC-h.tempC) > 1 {
		h.from, h.at, h.tempC, h.onLate, h.sum = window{at, tempC}, at, tempC, 0, 0
		return
	}
	u := 0.0
	if on {
		u = 1
	}
	h.onLate += h.late * dt
	h.sum += tempC * dt
	h.late += (u - h.late) * -math.Expm1(-dt/heatLag)
	h.at, h.tempC = at, tempC
	if span := at.Sub(h.from.at).Hours(); span >= windowHours {
		h.learn((tempC-h.from.tempC)/span, [3]float64{h.onLate / span, -(h.sum/span - refC), 1}, span)
		h.from, h.onLate, h.sum = window{at, tempC}, 0, 0
	}
}

// Fed says that the contents are new: the window that runs says nothing.
func (h *Heat) Fed() { h.from.at = time.Time{} }

// learn takes in one window's slope.
func (h *Heat) learn(slope float64, x [3]float64, hours float64) {
	h.cov[iRoom][iRoom] += roomWander * roomWander * hours
	var px [3]float64
	s := rateNoise * rateNoise
	e := slope
	for i := range px {
		for j := range x {
			px[i] += h.cov[i][j] * x[j]
		}
		e -= h.mean[i] * x[i]
		s += x[i] * px[i]
	}
	// A door, a hand, a draught: a slope far off counts less.
	if z2 := e * e / s; z2 > 9 {
		s *= z2 / 9
	}
	for i := range px {
		h.mean[i] += px[i] * e / s
		for j := range px {
			h.cov[i][j] -= px[i] * px[j] / s
		}
	}
}

// rates are the beliefs, kept to what a kitchen can do.
func (h *Heat) rates() (warming, loss, roomC float64) {
	h.begin()
	warming, loss = max(h.mean[iWarming], 0.2), min(max(h.mean[iLoss], 0.03), 3)
	return warming, loss, min(max(refC+h.mean[iRoom]/loss, 0), 40)
}

// RangeC is where the vessel would settle with the mat off and at full power.
func (h *Heat) RangeC() (idle, full float64) {
	b, a, r := h.rates()
	return r, r + b/a
}

// courseStep is the step of a foretold course.
const courseStep = 6 * time.Minute

// Course foretells the temperature from fromC on for so many hours when the
// thermostat is asked for setC.
func (h *Heat) Course(fromC, setC float64, hours int) timetopeak.Course {
	b, a, r := h.rates()
	temps := make([]float64, hours*int(time.Hour/courseStep)+1)
	c := fromC
	dt := courseStep.Hours()
	keep := math.Exp(-a * dt)
	for i := range temps {
		temps[i] = c
		idle := r + (c-r)*keep
		full := idle + b/a*(1-keep)
		c = min(max(setC, idle), full)
	}
	return timetopeak.Points(courseStep, temps)
}
