package control

import "time"

// Decision is what one call decided.
type Decision struct {
	At      time.Time
	On      bool          // the mat is told to heat
	Lease   time.Duration // for so long, if it is on
	Reason  Reason
	Changed bool // differs from the decision before
}

// OutputState is what is known of the switch. It is never "off" after a write
// that failed.
type OutputState string

// The states of an output.
const (
	OutputOff     OutputState = "off"
	OutputOn      OutputState = "on"
	OutputUnknown OutputState = "unknown" // take it to be on
)

// Fault is something that is wrong now.
type Fault struct {
	Kind    FaultKind
	Since   time.Time
	Latched bool   // stays until acknowledged
	Detail  string // the probe, or the error; may be empty
}

// State is everything a page, a topic or a metric may want to show. It is a
// copy.
type State struct {
	At        time.Time
	Mode      Mode
	Stage     Stage
	SetpointC float64
	On        bool
	Output    OutputState
	Switch    string // what switches the mat, for people
	Reason    Reason
	Text      string    // the reason, or a sentence that says more
	FreeAt    time.Time // when a pause ends that holds heat back, if one does and its end is known
	Faults    []Fault

	VesselC, MatC, RoomC    float64 // the mean at each place
	VesselOK, MatOK, RoomOK bool    // false: no fresh reading

	OnSwitches   uint64        // altogether, over restarts
	OnTotal      time.Duration // on-time altogether, over restarts
	DutyDay      float64       // on-share of the last 24 h, 0 to 1
	WriteErrors  uint64
	Rejected     uint64 // values that rule 3 did not accept
	Unreachable  bool   // full power will not reach the setpoint
	ExpectC      float64
	ExpectOK     bool // ExpectC is where full power would level off
	Anticipating bool // enough was learnt to switch early
}
