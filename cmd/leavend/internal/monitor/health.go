package monitor

import (
	"sync"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/sensor"
)

// failureLimit and silenceBorne are how many reads in a row may fail, and for
// how long, before the baker hears of it. A lost reading is the normal life of
// a sensor; a ranger sees nothing while the jar is away, while a hand is under
// it, or while its cover is fogged. The mat does not wait so long: its guard
// has a limit of its own.
const failureLimit = 3

func silenceLimit(q sensor.Quantity) time.Duration {
	if q == sensor.Distance {
		return 5 * time.Minute
	}
	return time.Minute
}

// health follows which sensors answer.
type health struct {
	alarms *event.Alarms

	mu      sync.Mutex // guards sensors
	sensors map[hardware.ChannelKey]*sensorHealth
}

// sensorHealth is what one sensor did lately.
type sensorHealth struct {
	Last     sensor.Reading
	Has      bool      // Last is a reading
	Failing  int       // reads that failed since
	Since    time.Time // of the first of them
	Failures uint64
	Err      error // of the last failure
}

func newHealth(f *event.Alarms) *health {
	return &health{alarms: f, sensors: map[hardware.ChannelKey]*sensorHealth{}}
}

// Record notes what a read gave. Subject is whom the sensor serves; say puts a
// failure into words.
func (h *health) Record(now time.Time, k hardware.ChannelKey, subject string, r sensor.Reading, err error, say func(error) event.AlarmText) {
	h.mu.Lock()
	s := h.sensors[k]
	if s == nil {
		s = &sensorHealth{}
		h.sensors[k] = s
	}
	if err == nil {
		s.Last, s.Has, s.Failing, s.Err = r, true, 0, nil
	} else {
		if s.Failing++; s.Failing == 1 {
			s.Since = now
		}
		s.Failures++
		s.Err = err
	}
	failing, told := s.Failing, s.silent(k.Quantity, now)
	h.mu.Unlock()
	key := event.AlarmKey{Subject: subject, Reason: event.NoReading, Part: k.Item()}
	switch {
	case failing == 0:
		h.alarms.Clear(now, key)
	case told:
		h.alarms.Raise(now, key, say(err))
	}
}

// silent reports whether reads have failed for longer than is borne.
func (s *sensorHealth) silent(q sensor.Quantity, now time.Time) bool {
	return s.Failing >= failureLimit && now.Sub(s.Since) >= silenceLimit(q)
}

// Of returns what is known of a sensor; false when it was never read.
func (h *health) Of(k hardware.ChannelKey) (sensorHealth, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.sensors[k]
	if s == nil {
		return sensorHealth{}, false
	}
	return *s, true
}

// Answers reports whether a sensor answers now. It turns false sooner than the
// baker is told: what a home hub shows must not be old.
func (h *health) Answers(k hardware.ChannelKey) bool {
	s, ok := h.Of(k)
	return ok && s.Has && s.Failing < failureLimit
}
