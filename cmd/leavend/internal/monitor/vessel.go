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
		Vessel: v.Conf.Slug, At: at, DistanceMM: distanceMM, HeightMM: v.Conf.FloorMM - distanceMM, SurfaceMM: math.NaN(),
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

// add gives a reading to the detector, as a height above the floor, and tells whether
// it was not believed. Without a known floor the height is the distance turned upside
// down, good for differences only.
// The caller holds mu.
func (v *Vessel) add(at time.Time, distanceMM, tempC float64) (events []event.Event, refused bool) {
	before := v.now.Status.Refused
	events = v.eventsOf(v.detector.Add(at, v.Shape.EquivalentMM(v.Conf.FloorMM-distanceMM), tempC))
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
