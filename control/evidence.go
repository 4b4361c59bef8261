package control

import "math"

// evidence says what is likely enough to act on, with the mat on for so many
// minutes since the probe last answered.
func (m *model) evidence(set float64, wary bool, on float64) (e evidence) {
	n := &m.need
	limit := farC
	if n.wary = wary; wary {
		limit = nearC
	}
	n.set = math.Max(n.set, set)
	if m.roomOK && m.last < set+nearC && m.last+n.gap >= n.set+limit {
		e |= spent
	}
	if n.since > 0 && math.Max(n.more, (n.slow-n.was)*reachC) < nearC {
		e |= agrees
	}
	if m.contact >= sure && m.jumps < manyJumps {
		e |= answers
	}
	if m.known() && m.jumps > movedJumps && m.contact < sure {
		e |= moved
	}
	if warmed := m.rate() * on; m.known() && (warmed >= 2*farC || warmed >= farC && m.jumps > movedJumps) {
		e |= due
	}
	if m.contact > 0 && m.jumps < manyJumps {
		e |= likelier
	}
	if m.contact <= unlikely || m.jumps >= manyJumps {
		e |= deaf
	}
	return e
}

// Odds are natural logarithms: 150 to 1 is sure, and 20 to 1 against an answer
// is enough for a look, which costs little. The bounds of the evidence keep
// years of good answers from outweighing the last hour (guesses).
const (
	sure, unlikely            = 5, -3
	mostContact, leastContact = 12, -8
)

// Distances, °C: what a hold is judged by, and what is far off (guesses).
const nearC, farC = 0.5, 1.5

// Times are multiples of one, the half hour in which a vessel shows what heats
// it, in minutes (guess). In an eighth of one a probe arrives at what it reads.
// After an hour of heat a mat is known, and over one
// the evidence fades: heat must go on being answered. For two a leap of the
// reading is remembered, and for three how well a candidate foretold.
const (
	halfHour      = 30
	leapMinutes   = halfHour / 8.0
	knownMinutes  = 2 * halfHour
	jumpMinutes   = 4 * halfHour
	forgetMinutes = 6 * halfHour
)

// A reading that leapt within the last two and a half hours is taken for moved,
// and one that leapt three times for deaf (guesses).
const movedJumps, manyJumps = 0.3, 2.5

// doubtful is how far the odds must lie for contact before half of what is seen
// is learnt: little as long as nothing is known, and more of a mat that is.
func (m *model) doubtful() float64 {
	if m.known() {
		return sure
	}
	return unlikely
}

// known reports whether the mat has been seen to heat for long enough.
func (m *model) known() bool { return m.rated > knownMinutes }

// likely says what a missing answer probably comes from; "" if nothing tells. A
// probe that slips out leaps to the air's temperature, and a vessel whose mat
// has no power sinks slowly.
func (m *model) likely(set float64) string {
	switch {
	case !m.known():
		return ""
	case m.jumps > movedJumps:
		return "the reading leapt: the probe has probably slipped out"
	case m.last < set-farC:
		return "the reading sank slowly: the mat probably gives no heat"
	}
	return ""
}

func sq(v float64) float64 { return v * v }
