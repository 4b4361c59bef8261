package monitor

import (
	"math"
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/sensor"
	"leavend/sensor/jar"
)

// Vessel is one watched jar or bowl: what its sensors said last, and the
// detector that follows its curve. Its methods may be called from any
// goroutine and never wait for anything but each other.
type Vessel struct {
	Conf   config.Vessel
	Shape  jar.Shape   // its inside; the zero shape is a straight one
	Reader text.Reader // of what it says
	of     *Monitor    // who knows what surrounds it; nil of a vessel alone

	mu        sync.Mutex // guards all below
	detector  *peak.Detector
	tempC     hardware.Recent
	now       observation
	refused   []Refusal    // the latest, newest last
	distances []distanceAt // the latest, newest last
	feedID    int64        // of the last feed in the journal; 0 if none is there
	feedMade  time.Time    // when it was noted
	run       feedRun
	fan       peak.Fan  // the last that was worked out
	fanAt     time.Time // the reading that it was worked out for

	building  sync.Mutex                    // held while the curve is built again; taken before mu
	meanwhile []func(*Vessel) []event.Event // what came since then, for the new curve
	notes     bool                          // it is noted
}

// Refusal is a reading that was not believed.
type Refusal struct {
	At    time.Time
	Value float64 // mm
	Why   string  // no_number, out_of_order, spike or away
}

// refusalsKept bounds the memory of refused readings.
const refusalsKept = 50

// observation is what the sensors and the detector say of a vessel, before
// anything else is known of it. What the baker is shown is its Status.
type observation struct {
	At         time.Time
	ReadAt     time.Time // of the last distance that came; zero before
	DistanceMM float64   // NaN when the last reading failed
	TempC      float64
	Status     peak.Status
	Stage      Stage // as far as the curve alone tells
	Forecast   peak.Forecast
	Expecting  bool       // there is a forecast
	Call       peak.Event // the peak, or a dough's target, as it was told; zero (Call.At.IsZero) before
	Collapse   time.Time  // when the fall after the peak was seen; zero before
}

// NewVessel returns a vessel about whose starter history tells the past.
func NewVessel(conf config.Vessel, history []peak.Feed) *Vessel {
	v := &Vessel{Conf: conf}
	v.Shape, _ = conf.Shape()
	o := peak.Opts{FloorKnown: v.Conf.Calibrated(), TargetRatio: v.Conf.TargetRatio, History: history}
	if v.Conf.Kind == config.Bowl {
		o.Kind = peak.Bowl
	}
	v.detector = peak.New(o)
	v.now = observation{DistanceMM: math.NaN(), TempC: math.NaN(), Status: v.detector.Status()}
	v.now.Stage = v.curveStage()
	return v
}

// StaleAfter is how long a temperature counts as the vessel's own.
func (v *Vessel) StaleAfter() time.Duration { return max(3*v.Conf.Every, time.Minute) }

// Temperature takes the vessel's temperature; it waits for the next distance.
func (v *Vessel) Temperature(r sensor.Reading) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.tempC = hardware.Recent{Value: r.Value, At: r.At}
}

// Distance takes what the ranger said at a moment, NaN when it said nothing,
// and returns the sample that it makes and the events that the detector finds.
func (v *Vessel) Distance(at time.Time, distanceMM float64, status string) (Sample, []event.Event) {
	v.mu.Lock()
	defer v.mu.Unlock()
	tempC := v.tempC.Within(at, v.StaleAfter())
	v.keepDistance(at, distanceMM)
	v.note(func(fresh *Vessel) []event.Event { return fresh.catchUp(at, distanceMM, tempC) })
	events, refused := v.add(at, distanceMM, tempC)
	s := Sample{
		Vessel: v.Conf.Slug, At: at, DistanceMM: distanceMM, HeightMM: v.heightMM(distanceMM), SurfaceMM: math.NaN(),
		TempC: tempC, MatC: math.NaN(), RoomC: math.NaN(), MatOn: math.NaN(), Status: status, Stage: v.now.Stage, Away: v.now.Status.Refused.Away,
	}
	if !v.Conf.Calibrated() {
		s.HeightMM, s.SurfaceMM = math.NaN(), distanceMM
	}
	if refused { // a hand is no height; the distance is kept all the same
		s.HeightMM, s.SurfaceMM = math.NaN(), math.NaN()
	}
	return s, events
}

// Replay takes a stored reading, as Distance once did.
func (v *Vessel) Replay(at time.Time, distanceMM, tempC float64) []event.Event {
	v.mu.Lock()
	defer v.mu.Unlock()
	events, _ := v.add(at, distanceMM, tempC)
	return events
}

// add gives a reading to the detector and tells whether it was not believed.
// The caller holds mu.
func (v *Vessel) add(at time.Time, distanceMM, tempC float64) (events []event.Event, refused bool) {
	before := v.now.Status.Refused
	events = v.eventsOf(v.detector.Add(at, v.Shape.EquivalentMM(v.heightMM(distanceMM)), tempC))
	read := v.now.ReadAt
	if !math.IsNaN(distanceMM) {
		read = at
	}
	v.now = observation{At: at, ReadAt: read, DistanceMM: distanceMM, TempC: tempC}
	v.observe()
	events = append(events, v.passed(at)...)
	if why := whyRefused(before, v.now.Status.Refused); why != "" {
		if len(v.refused) == refusalsKept {
			v.refused = append(v.refused[:0], v.refused[1:]...)
		}
		v.refused = append(v.refused, Refusal{at, distanceMM, why})
		refused = true
	}
	return events, refused
}

// whyRefused says in a word why the reading between two counts was not used; ""
// when it was, or when there was none.
func whyRefused(before, after peak.Refused) string {
	switch {
	case after.Bad > before.Bad:
		return "no_number"
	case after.Late > before.Late:
		return "out_of_order"
	case after.Spike > before.Spike:
		return "spike"
	case after.Away > before.Away:
		return "away"
	}
	return ""
}

// SetFeedID says under which number the journal keeps the last feed.
func (v *Vessel) SetFeedID(id int64, made time.Time) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.feedID, v.feedMade = id, made
}

// LastFeed returns the last feed's number in the journal and when it was
// noted; 0 when it is not there.
func (v *Vessel) LastFeed() (id int64, made time.Time) {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.feedID, v.feedMade
}

// Refusals returns the latest readings that were not believed, newest first.
func (v *Vessel) Refusals() []Refusal {
	v.mu.Lock()
	defer v.mu.Unlock()
	out := slices.Clone(v.refused)
	slices.Reverse(out)
	return out
}

// heightMM turns a distance into a height above the floor. Without a known
// floor it is the distance turned upside down, good for differences only.
func (v *Vessel) heightMM(distanceMM float64) float64 {
	return v.Conf.FloorMM - distanceMM
}

// Fed tells the detector that somebody fed the vessel.
func (v *Vessel) Fed(at time.Time) []event.Event {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.note(func(fresh *Vessel) []event.Event {
		if fresh.now.Status.FedAt.Equal(at) {
			return nil // the journal told it
		}
		return fresh.Fed(at)
	})
	events := v.eventsOf(v.detector.Fed(at))
	v.observe()
	return events
}

// Folded tells the detector that the baker folded the dough in a bowl.
func (v *Vessel) Folded(at time.Time) []event.Event {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.note(func(fresh *Vessel) []event.Event { return fresh.Folded(at) })
	events := v.eventsOf(v.detector.Folded(at))
	v.observe()
	return events
}

// fedEvent is the event of a feed that was given a while ago.
func (v *Vessel) fedEvent(at time.Time) event.Event {
	p := peak.Event{Kind: peak.EventFed, At: at, FeedAt: at, PeakAt: at, RiseRatio: 1, Source: store.Marked}
	return event.Event{Kind: event.Fed, Subject: v.Conf.Slug, At: at, Detected: p, Text: v.Sentence(p).In(v.Reader)}
}

// observe takes in how the detector stands. The caller holds mu.
func (v *Vessel) observe() {
	v.now.Status = v.inHeights(v.detector.Status())
	v.now.Forecast, v.now.Expecting = v.detector.Forecast()
	v.now.Call, v.now.Collapse = v.run.call, v.run.collapse
	v.now.Stage = v.curveStage()
}

// Rebuild puts a curve that build makes in the place of the one that is shown.
// Build may take its time: what the sensors and the baker say meanwhile goes to
// the curve that is shown, and then to the new one, for a reading that is older
// than the last would be lost. What build has when it fails is taken too; with
// nothing at all nothing changes. Rebuild returns what the new curve's detector
// said of what came meanwhile.
func (v *Vessel) Rebuild(build func() (*Vessel, error)) ([]event.Event, error) {
	v.building.Lock()
	defer v.building.Unlock()
	v.noting(true)
	defer v.noting(false)
	fresh, err := build()
	if fresh == nil {
		return nil, err
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	var said []event.Event
	for _, tell := range v.meanwhile {
		said = append(said, tell(fresh)...)
	}
	v.detector, v.now, v.refused = fresh.detector, fresh.now, fresh.refused
	v.run = fresh.run
	v.fan, v.fanAt = peak.Fan{}, time.Time{}
	return said, err
}

// noting begins and ends the notes of what comes meanwhile.
func (v *Vessel) noting(on bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.notes, v.meanwhile = on, nil
}

// note keeps something for the curve that is built, if one is. The caller holds
// mu.
func (v *Vessel) note(tell func(*Vessel) []event.Event) {
	if v.notes {
		v.meanwhile = append(v.meanwhile, tell)
	}
}

// catchUp is Replay for a reading that may have come from the store already,
// whose times are whole milliseconds.
func (v *Vessel) catchUp(at time.Time, distanceMM, tempC float64) []event.Event {
	if at.Sub(v.now.At) <= time.Millisecond {
		return nil
	}
	return v.Replay(at, distanceMM, tempC)
}

// inHeight turns what the detector says of a height and a rise, which it counts in
// volume, back into what a ruler shows.
func (v *Vessel) inHeight(equivalentMM, riseMM float64) (heightMM, trueRiseMM float64) {
	heightMM = v.Shape.HeightOfMM(equivalentMM)
	return heightMM, heightMM - v.Shape.HeightOfMM(equivalentMM-riseMM)
}

// inHeights is inHeight for a status.
func (v *Vessel) inHeights(s peak.Status) peak.Status {
	at := v.Shape.HeightOfMM
	s.SpeedMMH *= at(s.HeightMM+0.5) - at(s.HeightMM-0.5)
	s.HeightMM, s.RiseMM = v.inHeight(s.HeightMM, s.RiseMM)
	s.Peak.HeightMM, s.Peak.RiseMM = v.inHeight(s.Peak.HeightMM, s.Peak.RiseMM)
	return s
}

// SetTarget changes the rise that dough in a bowl waits for.
func (v *Vessel) SetTarget(ratio float64) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.detector.SetTarget(ratio)
}

// Target is the rise that dough in a bowl waits for.
func (v *Vessel) Target() float64 {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.detector.Target()
}

// FanPoint is a moment of the expected course, as rise ratios: the median and
// the 80 % interval.
type FanPoint struct {
	At             time.Time
	Low, Mid, High float64
}

// Fan returns the course that the forecast expects; empty where there is none, or
// where the height at the feed is not known. It is worked out at most once a
// minute, however often somebody looks.
func (v *Vessel) Fan() []FanPoint {
	v.mu.Lock()
	defer v.mu.Unlock()
	s := v.now.Status
	fed := v.Shape.EquivalentMM(s.HeightMM - s.RiseMM)
	if !v.now.Expecting || !v.Conf.Calibrated() || !(fed > 0) {
		return nil
	}
	if v.now.At.Sub(v.fanAt).Abs() >= time.Minute {
		v.fan, _ = v.detector.Fan()
		v.fanAt = v.now.At
	}
	course := make([]FanPoint, 0, len(v.fan))
	ratio := func(mm float64) float64 { return 1 + mm/fed }
	for _, p := range v.fan {
		course = append(course, FanPoint{p.At, ratio(p.LowMM), ratio(p.MidMM), ratio(p.HighMM)})
	}
	return course
}

// observed returns what the sensors and the detector say now.
func (v *Vessel) observed() observation {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.now
}

// Curve returns what the detector says of the curve now.
func (v *Vessel) Curve() peak.Status { return v.observed().Status }

// Learnt returns how many past feeds the detector knows.
func (v *Vessel) Learnt() int {
	v.mu.Lock()
	defer v.mu.Unlock()
	return len(v.detector.History())
}

// Record returns what is known of the running feed, once its peak was called.
func (v *Vessel) Record() (peak.Feed, bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.detector.Record()
}

// eventsOf turns the detector's events into the daemon's. The detector's slice is
// its own until the next call, so each event is copied.
func (v *Vessel) eventsOf(found []peak.Event) []event.Event {
	if len(found) == 0 {
		return nil
	}
	kinds := map[peak.EventKind]event.Kind{
		peak.EventFed: event.Fed, peak.EventForecast: event.Forecast, peak.EventPeak: event.Peak, peak.EventTarget: event.Target,
		peak.EventCollapse: event.Collapse, peak.EventFolded: event.Folded, peak.EventFault: event.AlarmRaised,
	}
	events := make([]event.Event, 0, len(found))
	for _, p := range found {
		if (p.Kind == peak.EventPeak || p.Kind == peak.EventTarget) && !v.run.call.At.IsZero() {
			continue // it was told before the curve was built again
		}
		p.HeightMM, p.RiseMM = v.inHeight(p.HeightMM, p.RiseMM)
		e := event.Event{Kind: kinds[p.Kind], Subject: v.Conf.Slug, At: p.At, Detected: p, Text: v.Sentence(p).In(v.Reader)}
		switch p.Kind {
		case peak.EventFed:
			v.run = feedRun{}
			v.detector.SetTarget(v.Conf.TargetRatio) // until a plan names another
		case peak.EventPeak, peak.EventTarget:
			v.run.call = p
		case peak.EventCollapse:
			v.run.collapse = p.At
		case peak.EventFault:
			e.Alarm = event.AlarmKey{Subject: v.Conf.Slug, Reason: event.UnclearCurve}
		}
		events = append(events, e)
	}
	return events
}

// longAgo is when a top is told as one that was: the daemon was off, or blind,
// when it came. A jar stands at its peak for an hour or two (common practice).
const longAgo = time.Hour

// Sentence says a detector's event in a baker's words.
func (v *Vessel) Sentence(e peak.Event) text.Message {
	name, at := text.Name("name", v.Conf.Name), text.Time("at", e.PeakAt)
	rise := text.Sub("rise", text.Say("event.rise_mm", text.Length("mm", e.RiseMM)))
	if !math.IsNaN(e.RiseRatio) && e.RiseRatio > 0 {
		rise = text.Sub("rise", text.Say("event.rise_ratio", text.Ratio("ratio", e.RiseRatio)))
	}
	switch e.Kind {
	case peak.EventFed:
		key := "event.fed"
		if e.Source == "found" {
			key = "event.found"
		} else if v.Conf.Kind == config.Bowl {
			key = "event.mixed"
		}
		return text.Say(key, name, text.Time("at", e.FeedAt))
	case peak.EventForecast:
		return text.Say("event.forecast", name, at, text.Time("low", e.Low), text.Time("high", e.High))
	case peak.EventPeak:
		if e.At.Sub(e.PeakAt) > longAgo {
			return text.Say("event.peaked", name, at, rise)
		}
		return text.Say("event.peak", name, at, rise)
	case peak.EventTarget:
		return text.Say("event.target", name, at, rise)
	case peak.EventFolded:
		return text.Say("event.folded", name, at)
	case peak.EventCollapse:
		return text.Say("event.collapse", name, at)
	}
	return curveFault(name, e.Fault)
}

// curveFault says what is wrong with the readings.
func curveFault(name text.Arg, f peak.Fault) text.Message {
	switch {
	case f.Kind == peak.NoDistance:
		return text.Say("alarm.curve.no_distance", name)
	case f.Kind == peak.FeedLost:
		return text.Say("alarm.curve.feed_lost", name)
	case f.MM < 0:
		return text.Say("alarm.curve.dropped", name, text.Length("by", -f.MM))
	}
	return text.Say("alarm.curve.rose", name, text.Length("by", f.MM))
}
