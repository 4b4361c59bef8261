package readyby

import (
	"fmt"
	"time"

	"leavend/peak"
	"leavend/peak/timetopeak"
)

// Observation is what the detector knows now.
type Observation struct {
	Forecast    peak.Forecast
	HasForecast bool
	Stage       peak.Stage
	Came        peak.Event // the call of this feed's top or target; At is zero before it
	ReadAt      time.Time  // of the last distance that was used
}

const (
	farthest  = 48 * time.Hour   // a target time lies no farther ahead
	runsOut   = 2 * time.Hour    // it ends so long after its hour
	silent    = 10 * time.Minute // without a temperature it is blind
	unseen    = 20 * time.Minute // and without a distance
	nearTop   = 0.6              // hours at 25 °C: dough this near its peak stands on it, for a top is round
	tolerance = 15 * time.Minute // an hour missed by less counts as met
	lateCool  = time.Hour        // nearer to the hour it is not cooled any more
	keeps     = 45 * time.Minute // a top earlier than this before the hour is cooled, to keep
	apartC    = 0.6              // a setpoint this far from the vessel warms or rests it
	calmC     = 0.2              // a smaller change of setpoint is not worth it
)

// SetReadyBy asks for the top (in a bowl: the target) at the hour. It refuses one
// that is past, or more than two days ahead.
func (s *Controller) SetReadyBy(now, at time.Time) error {
	switch ahead := at.Sub(now); {
	case ahead <= 0:
		return fmt.Errorf("the target time %s is past", at.Format("2006-01-02 15:04"))
	case ahead > farthest:
		return fmt.Errorf("the target time %s is more than two days ahead", at.Format("2006-01-02 15:04"))
	}
	s.target, s.setAt, s.setC = at, now, 0
	return nil
}

// Clear forgets the target time.
func (s *Controller) Clear() { s.target = time.Time{} }

// Restore takes back a target time that was set before a restart, whatever its hour.
func (s *Controller) Restore(made, at time.Time) { s.target, s.setAt, s.setC = at, made, 0 }

// SetStarter gives it what is known of the starter by now, and the setpoint that
// holds without a target time.
func (s *Controller) SetStarter(m *timetopeak.Model, usualC float64) {
	if m != nil {
		s.model = m
	}
	s.o.UsualC = usualC
}

// ReadyBy returns the target time; false when there is none.
func (s *Controller) ReadyBy() (time.Time, bool) { return s.target, !s.target.IsZero() }

// Advise finds the setpoint for now. It is asked every few minutes; asked more
// often it says the same.
func (s *Controller) Advise(now time.Time, v Observation) Advice {
	a := Advice{Kind: s.o.Kind, SetpointC: s.o.UsualC, ReadyBy: s.target, DegreeHours: s.warmed}
	if a.Reason = s.idle(now, v); a.Reason == Arrived {
		a.Expect = v.Came.PeakAt
		s.keep(&a, now)
	}
	if a.Reason != OnCourse {
		if a.Until.IsZero() {
			s.setC = 0
		}
		return a
	}
	l := s.remaining(now, v)
	goal := s.target.Sub(now)
	if goal <= 0 && l.work < nearTop {
		// The hour is here and so, all but, is the top: cool, it keeps.
		a.Reason, s.setC = Keeping, min(s.coolest(), s.o.UsualC)
		a.SetpointC, a.Expect = s.setC, now
		return a
	}
	setC, soonest, latest := s.choose(goal, s.cautious(l))
	if s.setC == 0 || setC-s.setC >= calmC || s.setC-setC >= calmC && goal > lateCool {
		s.setC = setC
	}
	a.SetpointC = s.setC
	a.Soonest, a.Latest = now.Add(soonest), now.Add(latest)
	course := s.heat.Course(s.tempC, a.SetpointC, horizon)
	a.Expect = now.Add(s.arrival(course, l.work))
	a.Low = now.Add(s.arrival(course, max(l.work-z80*l.sd, 0)))
	a.High = now.Add(s.arrival(course, l.work+z80*l.sd))
	asIs := s.heat.Course(s.tempC, s.tempC, horizon)
	a.Off = s.arrival(asIs, l.work) - goal
	s.explain(&a, now, goal)
	return a
}

const z80 = 1.2816

// cautious is the work to aim by. A bowl of dough cools slowly and warms fast,
// so that too warm a beginning is not to be mended; it is taken to be further on
// than it seems while little is known.
func (s *Controller) cautious(l left) float64 {
	if s.o.Kind == peak.Bowl {
		return max(l.work-bowlCaution*l.sd, 0.02)
	}
	return l.work
}

// bowlCaution is in standard deviations.
const bowlCaution = 0.5

// keep says what to do with what is there before its hour. Well before, it is
// cooled, for cool it keeps; near it, it is left as it is, since dough that
// cools also shrinks.
func (s *Controller) keep(a *Advice, now time.Time) {
	if !now.Before(s.target) {
		return
	}
	a.Until = s.target
	if a.Rests = s.setC == 0 || s.target.Sub(a.Expect) > keeps; a.Rests {
		s.setC = min(s.coolest(), s.o.UsualC)
	}
	a.SetpointC = s.setC
}

// idle returns why there is nothing to steer; OnCourse when there is.
func (s *Controller) idle(now time.Time, v Observation) Reason {
	switch {
	case s.target.IsZero():
		return NoHour
	case now.Sub(s.target) > runsOut:
		return Expired
	case !v.Came.At.IsZero() && v.Came.At.After(s.setAt):
		return Arrived
	case s.fedAt.IsZero() || !v.Came.At.IsZero():
		return NoFeed
	case now.Sub(s.seen) > silent || now.Before(s.seen.Add(-silent)):
		return BlindProbe
	case v.Stage == peak.Lost || now.Sub(v.ReadAt) > unseen && now.Sub(s.fedAt) > unseen || s.overdue(now, v):
		return BlindCurve
	}
	return OnCourse
}

// overdue reports whether the top should have come and the curve shows none.
func (s *Controller) overdue(now time.Time, v Observation) bool {
	if v.HasForecast {
		return false
	}
	span, _ := s.model.TopAfter(s.feed, s.pastThen(now, s.o.UsualC))
	return now.Sub(s.fedAt) > span.High
}

// remaining is the work that is left, from all who speak of it.
func (s *Controller) remaining(now time.Time, v Observation) left {
	set := s.setC
	if set == 0 {
		set = s.o.UsualC
	}
	l := s.fromPrior(now, set)
	if v.HasForecast {
		l = weigh(l, s.fromForecast(now, v.Forecast))
	}
	// It has not come yet, whatever they say.
	l.work = max(l.work, 0.02)
	return l
}

// explain gives the reason for a course.
func (s *Controller) explain(a *Advice, now time.Time, goal time.Duration) {
	idle, full := s.heat.RangeC()
	switch {
	case a.Soonest.Sub(now) > goal+tolerance:
		a.Reason = TooEarly
		a.RoomBound = full < a.SetpointC
	case a.Latest.Sub(now) < goal-tolerance:
		a.Reason = TooLate
		a.RoomBound = idle > s.coolest()
	case a.SetpointC < s.tempC-apartC && a.Off < 0:
		a.Reason = Ahead
		a.Until = s.cooled(now, a)
	case a.SetpointC > s.tempC+apartC && a.Off > 0:
		a.Reason = Behind
	default:
		a.Reason = OnCourse
	}
}

// cooled is when the vessel will have cooled to the setpoint; zero when it
// will not before the hour.
func (s *Controller) cooled(now time.Time, a *Advice) time.Time {
	course := s.heat.Course(s.tempC, a.SetpointC, horizon)
	for t := courseStep; now.Add(t).Before(a.ReadyBy); t += courseStep {
		if course(t) <= a.SetpointC+0.1 {
			return now.Add(t)
		}
	}
	return time.Time{}
}
