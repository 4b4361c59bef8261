package main

import (
	"sync"
	"time"

	"leavend/sensor"
)

// failuresBorne is how many reads in a row may fail before the baker hears of
// it: one lost reading is the normal life of a sensor.
const failuresBorne = 3

// health follows which sensors answer.
type health struct {
	faults *faults

	mu      sync.Mutex // guards sensors
	sensors map[wireKey]*sensorHealth
}

// sensorHealth is what one sensor did lately.
type sensorHealth struct {
	Last     sensor.Reading
	Has      bool // Last is a reading
	Failing  int  // reads that failed since
	Failures uint64
	Err      error // of the last failure
}

func newHealth(f *faults) *health {
	return &health{faults: f, sensors: map[wireKey]*sensorHealth{}}
}

// Heard notes what a read gave. Subject is whom the sensor serves; say puts a
// failure into words.
func (h *health) Heard(now time.Time, k wireKey, subject string, r sensor.Reading, err error, say func(error) complaint) {
	h.mu.Lock()
	s := h.sensors[k]
	if s == nil {
		s = &sensorHealth{}
		h.sensors[k] = s
	}
	if err == nil {
		s.Last, s.Has, s.Failing, s.Err = r, true, 0, nil
	} else {
		s.Failing++
		s.Failures++
		s.Err = err
	}
	failing := s.Failing
	h.mu.Unlock()
	key := faultKey{subject, faultSensor, k.item()}
	switch {
	case failing == 0:
		h.faults.Clear(now, key)
	case failing == failuresBorne:
		h.faults.Set(now, key, say(err))
	}
}

// Of returns what is known of a sensor; false when it was never read.
func (h *health) Of(k wireKey) (sensorHealth, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.sensors[k]
	if s == nil {
		return sensorHealth{}, false
	}
	return *s, true
}

// Answers reports whether a sensor answers, by the measure the baker is told.
func (h *health) Answers(k wireKey) bool {
	s, ok := h.Of(k)
	return ok && s.Has && s.Failing < failuresBorne
}
