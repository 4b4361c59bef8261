package sensor

import "fmt"

// Refused is the error of a measurement that a chip made and that no caller should
// believe: the chip itself doubts it, or it cannot be. The reading is kept for
// recordings and diagnosis, never for control.
type Refused struct {
	Reading Reading
	Reason  string
}

// Error gives the reason, and the value that was refused.
func (e *Refused) Error() string {
	return fmt.Sprintf("refused %s %.4g: %s", e.Reading.Quantity, e.Reading.Value, e.Reason)
}
