// Package control holds the heat mat: a thermostat that steers the vessel to
// a setpoint, and a guard that takes permission away.
//
// It is a controller, not a safety device: software of class A at most in the
// terms of IEC 60730. A mat needs an independent thermal cut-out of its own.
// A user must have read the cautions in the README before a mat is first
// switched on.
//
// # The two layers
//
// The thermostat says what it would like. The guard is a pure function,
// step(limits, state, event, now), that decides what happens; it alone can
// switch the mat on, and only for the length of a lease. Its sixteen rules
// are numbered in rules.go, and every test of one names the number.
//
// # How the wiring uses it
//
//	mat, err := control.New(out, control.Opts{SetpointC: 26, Probes: ...})
//	mat.Restore(saved, away)                 // faults, on-time and rests of the last run
//	defer mat.Close()                        // off
//	mat.SetMode(now, control.Hold)
//	mat.Temperature(now, "crumb", control.AtVessel, 24.8) // the bus goroutine
//	mat.Failed(now, "crumb", err)                         // a read that failed
//	mat.Tick(now)                                         // a ticker of its own, every second or two
//
// Each call decides at once and has already written to the output when it
// returns. [Mat.State] never waits for an output. Every goroutine that may
// panic begins with `defer mat.OffOnPanic()`.
//
// # Time
//
// Times come as arguments and must carry Go's monotonic clock, as time.Now
// and its Add do; only differences are used, so a wall clock that steps
// changes nothing. A simulated kitchen may run a thousand times faster than
// life as long as two calls lie less than a third of a lease apart.
package control

// Place is where a temperature probe sits. The words are those of the sensor
// side; the two packages do not know each other.
type Place string

// The places a probe may have: the thermostat steers by the vessel, watches
// the mat, and only learns from the room.
const (
	AtVessel Place = "vessel"
	AtMat    Place = "mat"
	AtRoom   Place = "room"
)

// Valid reports whether p is one of the known places.
func (p Place) Valid() bool { return p == AtVessel || p == AtMat || p == AtRoom }

// Mode is what the user asks of the mat.
type Mode string

// The modes. A mat starts in Off.
const (
	Off  Mode = "off"  // never heat
	Hold Mode = "hold" // hold the setpoint
)
