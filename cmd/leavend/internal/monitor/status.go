package monitor

import (
	"context"
	"math"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/sensor"
)

// Status is what a vessel is doing at one moment. It is decided here, once: the
// page, MQTT, the metrics, the messages and the command line each put it into
// their own format and decide nothing. What is not known is a nil pointer, and
// nothing else.
type Status struct {
	ID          string // the vessel's slug
	Name        string // as the baker calls it
	Kind        config.VesselKind
	At          time.Time  // when this was so
	ReadAt      *time.Time // the last reading of its surface, one that failed included
	SeenAt      *time.Time // the last that came
	Stage       Stage
	Why         text.Message // what a forecast waits for or comes from, or what else cannot be told; may be empty
	Alarm       *event.Alarm // what makes the stage unsure
	InsideMM    float64      // height of the vessel's inside
	TargetRatio *float64     // the rise that dough waits for
	StaleAfter  time.Duration

	Height      *Measure // mm above the floor
	Rise        *Measure // mm since the feed or, where none is known, since it was first seen
	Ratio       *Measure // height over height then
	Temp        *Measure // °C
	FedHeightMM *float64

	Feed        *FeedStatus
	Forecast    *Forecast
	Call        *Call      // the peak, or a dough's target, that came
	Rim         *Rim       // how near the rim it comes; nil where it is far
	FellAt      *time.Time // the jar has lost half of its rise since then
	BestUntil   *time.Time // of what is ready, or of dough that goes over: about how long it is at its best
	FridgeSince *time.Time
	Used        *Used // what the baker did with it since the feed

	Available     bool     // all its sensors answer
	NoThermometer bool     // its thermometer does not answer
	OnMat         bool     // the mat warms it
	Refused       *Refusal // the last reading that was not believed
	RefusedHour   int      // how many in the last hour
}

// Measure is a value with the time of its reading. It is fresh until the
// reading is older than StaleAfter.
type Measure struct {
	Value float64
	At    time.Time
	Fresh bool
}

// FeedStatus is the last feed.
type FeedStatus struct {
	ID        int64 // in the journal; 0 where it is not there
	At        time.Time
	Found     bool       // in the curve; it was not entered by anybody
	UndoUntil *time.Time // until when one tap takes it back
	DueAt     *time.Time // when the next is due; of dough there is none
}

// ForecastSource says what a forecast is made from.
type ForecastSource string

// The sources of a forecast.
const (
	OwnCurve   ForecastSource = "curve"    // the curve of this feed
	PastDoughs ForecastSource = "doughs"   // the doughs before this one
	PastFeeds  ForecastSource = "feeds"    // this starter's feeds before this one
	Practice   ForecastSource = "practice" // common practice
)

// Forecast is a time for the peak, or a dough's target, before it comes.
type Forecast struct {
	MadeAt        time.Time
	At, Low, High time.Time // the median and the 80 % interval
	Ratio         *float64  // the rise expected then
	Source        ForecastSource
}

// OwnForecast is the forecast, if this feed's own curve makes it.
func (s Status) OwnForecast() *Forecast {
	if s.Forecast == nil || s.Forecast.Source != OwnCurve {
		return nil
	}
	return s.Forecast
}

// SeenWithin reports whether the surface was read in the time before.
func (s Status) SeenWithin(d time.Duration) bool { return s.SeenAt != nil && s.At.Sub(*s.SeenAt) <= d }

// FreshTempC is the temperature that is known now, else NaN.
func (s Status) FreshTempC() float64 {
	if s.Temp == nil || !s.Temp.Fresh {
		return math.NaN()
	}
	return s.Temp.Value
}

// Call says that the peak is here, or that dough is at its target.
type Call struct {
	MadeAt, At time.Time
	Ratio      *float64 // at At
	RiseMM     *float64
}

// UndoFor is how long one tap takes a feed back.
const UndoFor = 10 * time.Minute

// readyFor is how long a jar stands at its peak: an hour or two (common
// practice).
const readyFor = 90 * time.Minute

// Status tells what a vessel is doing at now.
func (v *Vessel) Status(now time.Time) Status {
	o, target := v.observed(), v.Target()
	s := Status{
		ID: v.Conf.Slug, Name: v.Conf.Name, Kind: v.Conf.Kind, At: now, ReadAt: moment(o.At), SeenAt: moment(o.ReadAt), Stage: o.Stage,
		InsideMM: v.Conf.HeightMM, StaleAfter: v.StaleAfter(), Available: true, FellAt: moment(o.Collapse),
	}
	if s.InsideMM == 0 {
		s.InsideMM = v.Conf.FloorMM
	}
	if s.Kind == config.Bowl {
		s.TargetRatio = &target
	}
	addHeights(v, &s, o)
	s.Temp = measure(v.StaleAfter(), now, o.TempC, o.At)
	addFeed(v, &s, o)
	if o.Expecting {
		f := o.Forecast
		s.Forecast = &Forecast{MadeAt: o.At, At: f.PeakAt, Low: f.Low, High: f.High, Ratio: number(f.RiseRatio), Source: OwnCurve}
	}
	if c := o.Call; !c.At.IsZero() {
		s.Call = &Call{MadeAt: c.At, At: c.PeakAt, Ratio: number(c.RiseRatio), RiseMM: number(c.RiseMM)}
	}
	if s.Stage == Lag || s.Stage == Rising {
		s.Why = whyNoForecast(o.Status.WhyNoForecast)
	}
	s.BestUntil = bestUntil(s, o)
	for i, r := range v.Refusals() {
		if i == 0 {
			s.Refused = &r
		}
		if now.Sub(r.At) < time.Hour {
			s.RefusedHour++
		}
	}
	if v.of != nil {
		v.of.addSurroundings(&s, v)
	}
	s.Rim = v.rim(s)
	return s
}

// addHeights adds how high it stands.
func addHeights(v *Vessel, s *Status, o observation) {
	c := o.Status
	s.Rise, s.Ratio = measure(v.StaleAfter(), s.At, c.RiseMM, o.ReadAt), measure(v.StaleAfter(), s.At, c.RiseRatio, o.ReadAt)
	if !v.Conf.Calibrated() || math.IsNaN(c.HeightMM) {
		return
	}
	s.Height = measure(v.StaleAfter(), s.At, c.HeightMM, o.ReadAt)
	if !c.FedAt.IsZero() {
		s.FedHeightMM = number(c.HeightMM - c.RiseMM)
	}
}

// measure is a value with its time; nil where there is none.
func measure(stale time.Duration, now time.Time, value float64, at time.Time) *Measure {
	if number(value) == nil || at.IsZero() {
		return nil
	}
	return &Measure{Value: value, At: at, Fresh: now.Sub(at) <= stale}
}

// addFeed adds the last feed.
func addFeed(v *Vessel, s *Status, o observation) {
	if o.Status.FedAt.IsZero() || o.Status.FedSource == "" {
		return
	}
	s.Feed = &FeedStatus{At: o.Status.FedAt, Found: o.Status.FedSource == store.Found}
	if id, made := v.LastFeed(); id != 0 {
		s.Feed.ID = id
		if until := made.Add(UndoFor); s.At.Before(until) {
			s.Feed.UndoUntil = &until
		}
	}
}

// whyNoForecast says what a forecast is waiting for.
func whyNoForecast(r peak.Reason) text.Message {
	if key := map[peak.Reason]string{
		peak.FewReadings: "few_readings", peak.LittleRise: "little_rise", peak.TooCold: "too_cold",
		peak.FloorUnknown: "floor_unknown", peak.NoGrounds: "no_grounds",
	}[r]; key != "" {
		return text.Say("now.note." + key)
	}
	return text.Message{}
}

// bestUntil is about how long it is at its best: a jar for a while after its
// peak, dough until it has risen far too much, at the speed of now.
func bestUntil(s Status, o observation) *time.Time {
	switch {
	case s.Stage == AtPeak && s.Call != nil:
		return moment(s.Call.At.Add(readyFor))
	case (s.Stage == AtTarget || s.Stage == Over) && s.Ratio != nil && s.FedHeightMM != nil && *s.FedHeightMM > 0:
		left := 1 + pastShare*(*s.TargetRatio-1) - s.Ratio.Value
		hours := left / (o.Status.SpeedMMH / *s.FedHeightMM)
		if hours > 0 && hours < 12 {
			return moment(s.Ratio.At.Add(time.Duration(hours * float64(time.Hour))))
		}
	}
	return nil
}

// addSurroundings adds what is known of a vessel beside its curve: which of its
// sensors answer, the doughs before it, and the fridge.
func (m *Monitor) addSurroundings(s *Status, v *Vessel) {
	s.OnMat = m.Conf.Mat.Heats() && m.Conf.Mat.Vessel == s.Name
	probe := hardware.ChannelKey{Sensor: v.Conf.Temperature, Quantity: sensor.Temperature}
	if h, ok := m.Health.Of(probe); ok && h.Has {
		s.Temp = measure(v.StaleAfter(), s.At, h.Last.Value, h.Last.At)
	}
	s.NoThermometer = v.Conf.Temperature != "" && !m.Health.Answers(probe)
	seen := m.Health.Answers(hardware.ChannelKey{Sensor: v.Conf.Distance, Quantity: sensor.Distance})
	s.Available = seen && !s.NoThermometer
	if f, n, ok := m.DoughForecast(context.Background(), v); ok {
		s.Forecast = &Forecast{MadeAt: s.At, At: f.PeakAt, Low: f.Low, High: f.High, Ratio: number(f.RiseRatio), Source: Practice}
		s.Why = text.Say("now.note.dough_common")
		if n > 0 {
			s.Forecast.Source, s.Why = PastDoughs, text.Say("now.note.dough_own", text.Count("n", n))
		}
	}
	m.addUsual(s, v)
	addAlarms(s, m.Alarms.Of(s.ID), seen)
	m.addUse(s, v)
	if at, in := m.Fridge.Since(s.ID); in {
		s.Stage, s.FridgeSince, s.Why, s.Alarm = InFridge, &at, text.Message{}, nil
		s.Call, s.BestUntil, s.FellAt = nil, nil, nil
	}
	if s.Stage == InFridge || s.Stage == Unsure {
		s.Forecast = nil // what is not seen is not foretold
	}
	if s.Feed != nil && s.Kind == config.Jar {
		s.Feed.DueAt = feedDue(m.Conf.Reminders, *s)
		if s.Feed.DueAt != nil {
			if away, is := m.Rules().AwayAt(*s.Feed.DueAt); is {
				s.Feed.DueAt = &away.Until
			}
		}
	}
}

// addAlarms says what is wrong with a vessel's sensors. Without its thermometer
// the rise is still watched, and with it the stage holds.
func addAlarms(s *Status, standing []event.Alarm, seen bool) {
	for _, a := range standing {
		if !s.NoThermometer || !seen {
			s.Stage, s.Why, s.Alarm, s.BestUntil = Unsure, text.Message{}, &a, nil
			return
		}
		s.Why = text.Say("now.note.thermometer")
		if s.OnMat {
			s.Why = text.Say("now.note.thermometer_mat")
		}
	}
}

// number is a number that is known, else nil.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// moment is a time that is known, else nil.
func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}
