package monitor

import (
	"time"

	"leavend/cmd/leavend/internal/event"
)

// Scores holds each running feed's forecasts until its peak has come and
// shows how good they were. Only one goroutine uses it.
type Scores struct {
	forecasts map[string][]event.Event // by vessel, oldest first
}

// scoredAhead is how long before the top the forecast was made that counts:
// early enough to plan by, late enough to have grounds.
const scoredAhead = time.Hour

// Add notes a forecast.
func (s *Scores) Add(e event.Event) {
	if s.forecasts == nil {
		s.forecasts = map[string][]event.Event{}
	}
	s.forecasts[e.Subject] = append(s.forecasts[e.Subject], e)
}

// Forget starts a feed's forecasts again.
func (s *Scores) Forget(vessel string) { delete(s.forecasts, vessel) }

// Off returns how far the top was from the last forecast made well before it;
// false when there was none.
func (s *Scores) Off(top event.Event) (time.Duration, bool) {
	said := s.forecasts[top.Subject]
	s.Forget(top.Subject)
	for i := len(said) - 1; i >= 0; i-- {
		if top.Detected.PeakAt.Sub(said[i].At) >= scoredAhead {
			return said[i].Detected.PeakAt.Sub(top.Detected.PeakAt), true
		}
	}
	return 0, false
}
