package check

import (
	"context"

	"leavend/sensor"
)

// script is a source that gives what a test wrote down.
type script struct {
	values []float64 // NaN would be a reading too; an error is in errs
	errs   []error
	asked  int
}

func (s *script) Read(context.Context) (sensor.Reading, error) {
	i := s.asked
	s.asked++
	if i < len(s.errs) && s.errs[i] != nil {
		return sensor.Reading{}, s.errs[i]
	}
	return sensor.Reading{Quantity: sensor.Temperature, Value: s.values[i%len(s.values)]}, nil
}
