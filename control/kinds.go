package control

// FaultKinds returns every kind of fault, the gravest first.
func FaultKinds() []FaultKind { return allFaults() }

// Reasons returns every reason, the thermostat's first.
func Reasons() []Reason {
	return []Reason{
		ReasonBelow, ReasonAhead, ReasonWithin, ReasonAbove, ReasonCoasting, ReasonMatWarm, ReasonUnknown,
		ReasonClosed, ReasonMode, ReasonFault, ReasonOutput, ReasonStarting, ReasonFewReadings, ReasonStale, ReasonSuspect,
		ReasonSetpoint, ReasonDisagree, ReasonRest, ReasonLooking, ReasonNoGain, ReasonDuty, ReasonBudget, ReasonLapsed, ReasonMinOff,
	}
}
