package laser

import (
	"fmt"

	"leavend/sensor"
)

// Status is what a chip says of a measurement.
type Status struct {
	Word   string // the number of ST's driver or data sheet and a word, for recordings
	Reason string // why the measurement is refused; empty when it is valid
}

// Valid is a status that says that the measurement is good.
func Valid(word string) Status { return Status{Word: word} }

// Invalid is a status that says why the measurement is not.
func Invalid(word, reason string) Status { return Status{Word: word, Reason: reason} }

// None stands for a status that no document explains.
var None = Invalid("255 none", "the chip gives no result")

// Find returns the status of a number, or None.
func Find(statuses []Status, n uint8) Status {
	if int(n) >= len(statuses) || statuses[n].Word == "" {
		return None
	}
	return statuses[n]
}

// Limits are where a reading must lie. The distance is the corrected one, that
// is after offset and crosstalk: a chip that reads 18 mm short sees a surface
// at 45 mm as one at 27, and is right about it.
type Limits struct {
	MinMM, MaxMM float64
	MinMcps      float64 // least light, million counts a second; 0 means more than none
}

// MaxMcps is more light, in million counts per second, than comes back from
// any target (a guess, far above what users report); it betrays a transfer
// that broke off, whose rest reads as ones.
const MaxMcps = 256

// Check returns what is wrong with the limits of a chip that sees no farther
// than reachMM.
func (l Limits) Check(reachMM float64) error {
	if !(l.MinMM >= 0 && l.MinMM < l.MaxMM && l.MaxMM <= reachMM) {
		return fmt.Errorf("range %v to %v mm makes no sense: it must lie within 0 to %v", l.MinMM, l.MaxMM, reachMM)
	}
	return nil
}

// refuse returns why a reading is refused, or nothing.
func (l Limits) refuse(r sensor.Reading) string {
	switch {
	case r.Value < l.MinMM:
		return "nearer than the chip can measure: glare from a wet surface, or the cover glass"
	case r.Value > l.MaxMM:
		return "farther than the chip reaches"
	case r.Signal <= 0 || r.Signal < l.MinMcps || r.Signal > MaxMcps:
		return "valid with an impossible amount of light"
	}
	return ""
}

// Count returns a fixed-point number of two bytes.
func Count(b []byte, one float64) float64 { return float64(uint16(b[0])<<8|uint16(b[1])) / one }
