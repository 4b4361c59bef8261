// Package readyby moves the mat so that the top of a starter, or the target
// rise of a dough, comes at the time the baker asked for.
//
//	s := readyby.New(readyby.Opts{Model: model})
//	s.Fed(at, feed)                       // a new feed
//	s.Observe(at, tempC, matOn)               // every reading of the vessel's probe
//	err := s.SetReadyBy(now, time.Date(...))    // "top at 20:00"
//	a := s.Advise(now, readyby.Observation{...})   // every few minutes
//	// a.SetpointC is asked of the thermostat; a.String() says why
//
// # How it works
//
// What is left to the top is counted as work, in hours at 25 °C. Two speak of
// it: the ripening model, from the feed on, and the detector's forecast, once
// the curve shows itself; each counts by its width, and the model the less, the
// more the curve contradicts it. Heat (heat.go) learns from
// the same readings how the vessel warms, cools, and where the room lets it
// settle, and foretells the temperature under a setpoint. The setpoint is then
// the one on which the work is done at the target time. Every few minutes it is found
// again, so that what the curve shows corrects it.
//
// # What it cannot do
//
// A setpoint is never outside the limits, except for the usual one, to which
// the course falls back when it is blind: no temperature, no curve, or a curve
// that has no top where there should be one. A target time ends two hours after its
// hour. The thermostat and the guard stand behind it with all their rules;
// nothing here can reach them. Near the top little can be moved: the last half
// hour is the starter's own.
//
// RESULTS.md has what it reaches in invented kitchens.
package readyby
