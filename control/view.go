package control

import (
	"fmt"
	"time"
)

// note keeps the list of faults in step with the guard.
func (m *Mat) note(c command) {
	for l := latchVesselCutoff; l <= latchPanic; l <<= 1 {
		m.fault(faultOf(l), m.g.latched&l != 0, "")
	}
	detail := ""
	if m.lastErr != nil {
		detail = m.lastErr.Error()
	}
	// A failure that a retry has mended is still told for a while: somebody
	// should look at that switch.
	m.fault(FaultOutput, m.g.unknown && !m.starting() || m.bad && m.g.now-m.badAt < tellBad, detail)
	m.fault(FaultNoGain, m.g.doubt.fails > 0 || m.g.doubt.spent, m.likely)
	m.fault(FaultStale, m.staleProbe() != "", m.staleProbe())
	m.fault(FaultSuspect, m.suspectProbe() != "", m.suspectProbe())
	m.fault(FaultLingers, m.linger.tells && m.g.latched&latchStuckOn == 0, "")
	m.fault(FaultDisagree, blockDisagree(&m.lim, &m.g, event{}) != "", "")
	if c.reason == ReasonLapsed || m.g.on {
		m.fault(FaultLapsed, c.reason == ReasonLapsed, "")
	}
}

// fault sets or clears one fault. The time of its beginning is kept.
func (m *Mat) fault(k FaultKind, is bool, detail string) {
	f, was := m.faults[k]
	switch {
	case !is:
		delete(m.faults, k)
	case !was:
		m.faults[k] = Fault{Kind: k, Since: m.wallNow, Latched: k.Latched(), Detail: detail}
	case f.Detail != detail || f.Since.IsZero():
		f.Detail = detail
		if f.Since.IsZero() {
			f.Since = m.wallNow // it came before anybody had said what time it is
		}
		m.faults[k] = f
	}
}

// starting reports whether the output was not reached yet for no other reason
// than that the program has just started.
func (m *Mat) starting() bool {
	s, slow := m.out.(Starter)
	return slow && s.Starting(m.wallNow)
}

// staleProbe names a probe that spoke and then fell silent, or one that was
// announced and is late.
func (m *Mat) staleProbe() string {
	for i, n := range m.names {
		if p := m.g.probes[i]; p.relied && m.g.now-p.at >= m.lim.Stale {
			return n
		}
	}
	return ""
}

// suspectProbe names a probe whose last value looked too hot to be right.
func (m *Mat) suspectProbe() string {
	for i, n := range m.names {
		if m.g.probes[i].hot {
			return n
		}
	}
	return ""
}

// publish makes the state that State returns.
func (m *Mat) publish() {
	window := time.Duration(m.lim.buckets) * m.lim.bucket
	s := State{
		At: m.wallNow, Mode: m.g.mode, Stage: m.stage, SetpointC: m.g.setpointC,
		On: m.g.on, Output: m.g.output(), Switch: m.out.String(),
		Reason: m.reason, Text: m.reason.Text(),
		OnSwitches: m.counts.Switches, OnTotal: m.counts.On,
		WriteErrors: m.counts.writeErrors, Rejected: m.counts.rejected,
		DutyDay: min(float64(m.g.dutyOn(&m.lim))/float64(window), 1),
	}
	if end, ok := m.g.pauseEnd(&m.lim, m.reason); ok {
		s.FreeAt = m.wallNow.Add(end - m.g.now)
	}
	var far bool
	s.ExpectC, far, s.ExpectOK = m.therm.expect(m.g.setpointC)
	s.Anticipating = !m.therm.plain && s.ExpectOK
	if s.Unreachable = far && m.g.mode == Hold; s.Unreachable {
		s.Text = fmt.Sprintf("the room is too cold for this mat: expect %.1f °C", s.ExpectC)
	}
	s.VesselC, s.VesselOK = m.g.mean(&m.lim, AtVessel)
	s.MatC, s.MatOK = m.g.mean(&m.lim, AtMat)
	s.RoomC, s.RoomOK = m.g.mean(&m.lim, AtRoom)
	for _, k := range allFaults() {
		if f, ok := m.faults[k]; ok {
			s.Faults = append(s.Faults, f)
		}
	}
	m.view.Store(&s)
}

// output is what is known of the switch (rule 12).
func (s *guardState) output() OutputState {
	switch {
	case s.unknown:
		return OutputUnknown
	case s.on:
		return OutputOn
	}
	return OutputOff
}

// allFaults lists every fault, the gravest first.
func allFaults() []FaultKind {
	return []FaultKind{
		FaultStuckOn, FaultMatCutoff, FaultVesselCutoff, FaultOutput, FaultNoGain, FaultPanic,
		FaultLingers, FaultStale, FaultSuspect, FaultDisagree, FaultLapsed,
	}
}

// tellBad is how long a failed write is told of after it was mended (guess).
const tellBad = 10 * time.Minute
