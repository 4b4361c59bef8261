package readyby

import (
	"math"
	"time"

	"leavend/peak"
	"leavend/peak/timetopeak"
)

// Limits bound every setpoint that a course may ask for, °C.
type Limits struct{ CoolestC, WarmestC float64 }

// UsualLimits are good for a starter: below 22 °C it hardly pays to wait, and
// above 28 K. humilis slows down while the acid bacteria gain.
func UsualLimits() Limits { return Limits{22, 28} }

// Opts says what is known of a vessel. Zero fields take their defaults.
type Opts struct {
	Kind   peak.Kind
	Limits Limits            // default UsualLimits
	UsualC float64           // the setpoint without a target time; default 25
	Model  *timetopeak.Model // what is known of the starter; default New
}

// Controller finds the setpoint course of one vessel. It is not safe for
// concurrent use, reads no clock and starts nothing.
type Controller struct {
	o     Opts
	model *timetopeak.Model
	heat  Heat

	target time.Time // zero: none
	setAt  time.Time
	setC   float64   // asked for last, 0: nothing
	fedAt  time.Time // zero: unknown
	feed   timetopeak.Feed
	temps  []float64 // since the feed, one every courseStep
	sum    float64   // of the running step
	n      int
	seen   time.Time // of the last temperature
	tempC  float64
	warmed float64 // degree-hours above the room since the feed
}

// New returns a controller without a target time.
func New(o Opts) *Controller {
	if o.Limits == (Limits{}) {
		o.Limits = UsualLimits()
	}
	if o.UsualC == 0 {
		o.UsualC = 25
	}
	if o.Model == nil {
		o.Model = timetopeak.New()
	}
	return &Controller{o: o, model: o.Model, tempC: math.NaN()}
}

// Fed begins a new feed. A feed found late gives its own time.
func (s *Controller) Fed(at time.Time, f timetopeak.Feed) {
	s.fedAt, s.feed = at, f
	s.temps, s.sum, s.n, s.warmed = s.temps[:0], 0, 0, 0
	s.heat.Fed()
}

// Observe takes the vessel's temperature and whether the mat is on from now.
func (s *Controller) Observe(at time.Time, tempC float64, on bool) {
	if !(tempC > -20 && tempC < 60) {
		return
	}
	s.heat.Observe(at, tempC, on)
	if dt := at.Sub(s.seen); dt > 0 && dt < silent {
		roomC, _ := s.heat.RangeC()
		s.warmed += max(tempC-roomC, 0) * dt.Hours()
	}
	s.seen, s.tempC = at, tempC
	if s.fedAt.IsZero() {
		return
	}
	for i := int(at.Sub(s.fedAt) / courseStep); len(s.temps) < i && len(s.temps) < maxTemps; {
		mean := tempC
		if s.n > 0 {
			mean = s.sum / float64(s.n)
		}
		s.temps, s.sum, s.n = append(s.temps, mean), 0, 0
	}
	s.sum, s.n = s.sum+tempC, s.n+1
}

// maxTemps is ten days.
const maxTemps = 240 * int(time.Hour/courseStep)

// left is the work to the top that is left, in hours at 25 °C.
type left struct{ work, sd float64 }

// horizon is how many hours a course looks ahead.
const horizon = 48

// fromPrior is what the ripening model expects to be left, on the course of
// the given setpoint.
func (s *Controller) fromPrior(now time.Time, setC float64) left {
	age := now.Sub(s.fedAt)
	span, _ := s.model.TopAfter(s.feed, s.pastThen(now, setC))
	ahead := s.heat.Course(s.tempC, setC, horizon)
	at := func(p float64) float64 {
		if d := span.Quantile(p) - age; d > 0 {
			return s.workUntil(ahead, d)
		} else {
			return d.Hours() * s.model.Pace(s.tempC)
		}
	}
	l := left{at(0.5), max(at(0.84)-at(0.16), 0.02) / 2}
	if s.o.Kind == peak.Bowl {
		done := s.done()
		all := (l.work + done) * doughShare
		l = left{all - done, math.Hypot(l.sd*doughShare, doughDoubt*all)}
	}
	return l
}

// Dough is at its target long before its own top. With a fifth of starter it
// has risen by three quarters in four to five hours at 25 °C (common practice),
// which is this share of what the ripening model gives for the same dilution.
const (
	doughShare = 0.65
	doughDoubt = 0.2 // and for how much of it that is a guess
)

// done is the work since the feed, in hours at 25 °C.
func (s *Controller) done() float64 {
	sum := 0.0
	for _, c := range s.temps {
		sum += s.model.Pace(c) * courseStep.Hours()
	}
	return sum
}

// pastThen is the course since the feed, and from now on that of a setpoint.
func (s *Controller) pastThen(now time.Time, setC float64) timetopeak.Course {
	age := now.Sub(s.fedAt)
	past, ahead := timetopeak.Points(courseStep, s.temps), s.heat.Course(s.tempC, setC, horizon)
	return func(after time.Duration) float64 {
		if after < age && len(s.temps) > 0 {
			return past(after - courseStep/2)
		}
		return ahead(after - age)
	}
}

// fromForecast is what the detector expects to be left. It reckons with the
// temperature of now; so its hours are turned into work at that pace.
func (s *Controller) fromForecast(now time.Time, f peak.Forecast) left {
	pace := s.model.Pace(s.tempC)
	h := func(t time.Time) float64 { return max(t.Sub(now).Hours(), 0) }
	work := h(f.PeakAt) * pace
	return left{work, max((h(f.High)-h(f.Low))*pace/2.56, forecastSD, farDoubt*work)}
}

// forecastSD is the least that a forecast is off by, one standard deviation in
// hours at 25 °C: that of the detector's forecasts one to two hours before the
// tops of invented histories (0.3), less what the prior's part takes off.
const forecastSD = 0.2

// farDoubt is the same as a share of what is left: a curve that has hardly begun promises
// more than it knows. Found on histories from seed 1 on.
const farDoubt = 0.3

// workUntil is the work done along a course from now until d.
func (s *Controller) workUntil(c timetopeak.Course, d time.Duration) float64 {
	sum := 0.0
	for t := time.Duration(0); t < d; t += courseStep {
		part := min(courseStep, d-t)
		sum += s.model.Pace(c(t+part/2)) * part.Hours()
	}
	return sum
}

// arrival is when the work is done along a course.
func (s *Controller) arrival(c timetopeak.Course, work float64) time.Duration {
	sum := 0.0
	for t := time.Duration(0); t < horizon*time.Hour; t += courseStep {
		step := s.model.Pace(c(t+courseStep/2)) * courseStep.Hours()
		if sum+step >= work {
			return t + time.Duration((work-sum)/step*float64(courseStep))
		}
		sum += step
	}
	return horizon * time.Hour
}

// recordDoubt is by how much more than its record says a starter may have changed since.
const recordDoubt = 3

// weigh puts what the ripening model and the forecast expect into one, each by its width.
// The model counts the less, the further the two are apart beyond their widths: the curve
// is of this feed, and the record is not.
func weigh(prior, forecast left) left {
	prior.sd *= recordDoubt
	apart := prior.work - forecast.work
	wp, wf := 1/(prior.sd*prior.sd+apart*apart), 1/(forecast.sd*forecast.sd)
	return left{(wp*prior.work + wf*forecast.work) / (wp + wf), 1 / math.Sqrt(wp+wf)}
}

// choose returns the constant setpoint on which the work is done at the target time,
// with the soonest and the latest that the limits allow.
func (s *Controller) choose(goal time.Duration, work float64) (setC float64, soonest, latest time.Duration) {
	at := func(c float64) time.Duration { return s.arrival(s.heat.Course(s.tempC, c, horizon), work) }
	lo, hi := s.coolest(), s.fastest()
	soonest, latest = at(hi), at(lo)
	switch {
	case goal <= soonest:
		return hi, soonest, latest
	case goal >= latest:
		return lo, soonest, latest
	}
	for range 12 {
		if m := (lo + hi) / 2; at(m) > goal {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2, soonest, latest
}

// coolest is the least setpoint. A dough is none the worse for a cool night,
// so that a bowl may be let cool until the mat is off in all but name.
func (s *Controller) coolest() float64 {
	if s.o.Kind == peak.Bowl {
		return min(s.o.Limits.CoolestC, bowlCoolestC)
	}
	return s.o.Limits.CoolestC
}

// bowlCoolestC is a cool larder (common practice: dough proofs there overnight).
const bowlCoolestC = 15

// fastest is the temperature within the limits at which the starter is
// quickest: above it, warmth only slows it down.
func (s *Controller) fastest() float64 {
	best := s.o.Limits.WarmestC
	for c := s.o.Limits.WarmestC; c >= s.o.Limits.CoolestC; c -= 0.25 {
		if s.model.Pace(c) > s.model.Pace(best)*1.002 {
			best = c
		}
	}
	return best
}
