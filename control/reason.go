package control

// Reason is why the mat is on or off, as a stable word for logs, topics and
// metrics. Text says the same to a person.
type Reason string

// The reasons. The first group is the thermostat's, the rest is the guard's.
const (
	ReasonBelow    Reason = "below-setpoint" // on
	ReasonAhead    Reason = "ahead"          // on early: the vessel is about to fall below the band
	ReasonWithin   Reason = "within-band"
	ReasonAbove    Reason = "above-setpoint"
	ReasonCoasting Reason = "coasting" // off early: the warmth on its way will do
	ReasonMatWarm  Reason = "mat-warm" // the mat's surface is warm enough for now
	ReasonUnknown  Reason = "no-reading"

	ReasonClosed      Reason = "closed"
	ReasonMode        Reason = "mode-off"
	ReasonFault       Reason = "fault"
	ReasonOutput      Reason = "output-unknown"
	ReasonStarting    Reason = "output-awaited"
	ReasonFewReadings Reason = "few-readings"
	ReasonStale       Reason = "stale"
	ReasonSuspect     Reason = "suspect-hot"
	ReasonSetpoint    Reason = "setpoint-too-high"
	ReasonDisagree    Reason = "probes-disagree"
	ReasonRest        Reason = "resting"
	ReasonLooking     Reason = "looking"
	ReasonNoGain      Reason = "no-gain"
	ReasonDuty        Reason = "duty"
	ReasonBudget      Reason = "budget"
	ReasonLapsed      Reason = "lapsed"
	ReasonMinOff      Reason = "minimum-off"
)

// pause reports whether the reason merely makes heat wait.
func (r Reason) pause() bool {
	switch r {
	case ReasonMinOff, ReasonRest, ReasonDuty, ReasonBudget, ReasonLooking, ReasonNoGain:
		return true
	}
	return false
}

// Text is the reason as a sentence without its full stop.
func (r Reason) Text() string {
	switch r {
	case ReasonBelow:
		return "warming: it is colder than you asked for"
	case ReasonAhead:
		return "warming early, so that it does not get too cold"
	case ReasonWithin:
		return "as warm as you asked for"
	case ReasonAbove:
		return "off: it is warmer than you asked for"
	case ReasonCoasting:
		return "off early: the warmth already in the mat will do the rest"
	case ReasonMatWarm:
		return "off for a moment: the mat itself is warm enough"
	case ReasonUnknown:
		return "off: no temperature has come in yet"
	case ReasonClosed:
		return "off: the program is ending"
	case ReasonMode:
		return "the mat is switched off"
	case ReasonFault:
		return "off: something went wrong, and it stays off until you acknowledge it"
	case ReasonOutput:
		return "the switch does not answer: the mat may be on, and is told off again and again"
	case ReasonStarting:
		return "off: waiting for the switch to answer"
	case ReasonFewReadings:
		return "off: waiting for a few good readings in a row"
	case ReasonStale:
		return "off: a probe that the mat needs is silent"
	case ReasonSuspect:
		return "off: a probe gave a value that cannot be right, and a hot one"
	case ReasonSetpoint:
		return "off: the setpoint is too close to a cutoff"
	case ReasonDisagree:
		return "off: two probes at one place disagree"
	case ReasonRest:
		return "off: it rests after a long time on"
	case ReasonLooking:
		return "off for some minutes, to see whether the probe answers"
	case ReasonNoGain:
		return "off: the mat was on and the probe did not answer; please look at both"
	case ReasonDuty:
		return "off: it has been on for as much of the day as it may"
	case ReasonBudget:
		return "off: a mat this strong may give its load no more in half an hour"
	case ReasonLapsed:
		return "off: the program stood still for too long"
	case ReasonMinOff:
		return "off; it may come on again in a few minutes"
	}
	return "unknown reason " + string(r)
}

// FaultKind names a fault as a stable word.
type FaultKind string

// The faults. The first four latch: they keep the mat off, through restarts,
// until a person acknowledges them.
const (
	FaultVesselCutoff FaultKind = "vessel-cutoff"
	FaultMatCutoff    FaultKind = "mat-cutoff"
	FaultStuckOn      FaultKind = "stuck-on"
	FaultPanic        FaultKind = "panic"

	FaultNoGain   FaultKind = "no-gain"
	FaultOutput   FaultKind = "output"
	FaultStale    FaultKind = "stale-probe"
	FaultSuspect  FaultKind = "suspect-probe"
	FaultDisagree FaultKind = "probes-disagree"
	FaultLapsed   FaultKind = "lapsed"
	FaultLingers  FaultKind = "stays-warm"
)

// faultOf pairs each latch with its fault.
func faultOf(l latch) FaultKind {
	switch l {
	case latchVesselCutoff:
		return FaultVesselCutoff
	case latchMatCutoff:
		return FaultMatCutoff
	case latchStuckOn:
		return FaultStuckOn
	}
	return FaultPanic
}

// latchOf is the inverse of faultOf; ok is false for faults that do not latch.
func latchOf(k FaultKind) (l latch, ok bool) {
	for l := latchVesselCutoff; l <= latchPanic; l <<= 1 {
		if faultOf(l) == k {
			return l, true
		}
	}
	return 0, false
}

// Latched reports whether the fault stays until it is acknowledged.
func (k FaultKind) Latched() bool {
	_, ok := latchOf(k)
	return ok
}
