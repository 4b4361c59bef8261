package monitor

import (
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
)

// Stage says where a jar or bowl stands. The set is closed: every surface has
// a word for each of them. The words go out by MQTT and in metrics.
type Stage string

// The stages, in the order of a feed.
const (
	Waiting   Stage = "waiting"   // no feed is known
	Lag       Stage = "lag"       // fed or mixed, and not rising yet
	Rising    Stage = "rising"    //
	AtPeak    Stage = "peak"      // a jar at its peak
	Falling   Stage = "falling"   // a jar past its peak
	Collapsed Stage = "collapsed" // and it has lost half of its rise
	AtTarget  Stage = "target"    // dough at its target rise
	Over      Stage = "over"      // dough that has risen more than it should
	Past      Stage = "past"      // dough past its best
	InFridge  Stage = "fridge"    // not watched there
	Unsure    Stage = "unsure"    // its sensors do not answer
)

// Stages returns every stage.
func Stages() []Stage {
	return []Stage{Waiting, Lag, Rising, AtPeak, Falling, Collapsed, AtTarget, Over, Past, InFridge, Unsure}
}

// feedRun is how far the running feed has come, as far as it was told.
type feedRun struct {
	call     peak.Event // the peak, or a dough's target; zero before
	collapse time.Time  // half of the rise was lost; zero before
	fell     time.Time  // a jar began to fall; zero before
	proof    Proof      // the farthest that a dough has come
}

// curveStage is the stage as far as the curve tells it. What was told of a feed
// holds: dough that went over once is over. The caller holds mu.
func (v *Vessel) curveStage() Stage {
	s := v.now.Status
	called := !v.run.call.At.IsZero()
	bowl := v.Conf.Kind == config.Bowl
	switch proof := max(v.run.proof, v.proof()); {
	case bowl && proof == Overproofed:
		return Past
	case bowl && proof == Overproofing:
		return Over
	case s.Stage == peak.Lost:
		return Unsure
	case bowl && called:
		return AtTarget
	case s.Stage == peak.AtPeak, called && (s.Stage == peak.Rising || s.Stage == peak.Lag):
		return AtPeak
	case s.Stage == peak.Falling:
		return Falling
	case s.Stage == peak.Collapsed:
		return Collapsed
	case s.Stage == peak.Rising:
		return Rising
	case s.Stage == peak.Lag && !s.FedAt.IsZero():
		return Lag
	}
	return Waiting // nothing moves, or it is not known what is in it
}

// passed tells once when a jar begins to fall, when dough goes over, and when it
// is past its best. The caller holds mu.
func (v *Vessel) passed(at time.Time) []event.Event {
	name := text.Name("name", v.Conf.Name)
	var says text.Message
	var kind event.Kind
	switch stage := v.now.Stage; {
	case (stage == Falling || stage == Collapsed) && v.run.fell.IsZero() && !v.run.call.At.IsZero():
		v.run.fell = at
		kind, says = event.Falling, text.Say("event.falling", name, text.Time("at", v.run.call.PeakAt))
	case stage == Over && v.run.proof < Overproofing:
		v.run.proof = Overproofing
		kind, says = event.Over, text.Say("event.over", name)
	case stage == Past && v.run.proof < Overproofed:
		v.run.proof = Overproofed
		kind, says = event.Past, text.Say("event.past", name)
	default:
		return nil
	}
	s := v.now.Status
	now := v.run.call
	now.At, now.RiseRatio, now.RiseMM, now.HeightMM = at, s.RiseRatio, s.RiseMM, s.HeightMM
	return []event.Event{{Kind: kind, Subject: v.Conf.Slug, At: at, Detected: now, Text: says.In(v.Reader)}}
}

// recall takes in what the journal knows of the running feed: a peak that was
// told stays where it was told to be, although a curve that is built again may
// show it some minutes away. It is called before the curve is built.
func (v *Vessel) recall(known []store.Event) {
	v.mu.Lock()
	defer v.mu.Unlock()
	slices.SortStableFunc(known, func(a, b store.Event) int { return a.At.Compare(b.At) })
	for _, e := range known {
		kind, data := event.Kind(e.Kind), dataOf(e)
		switch {
		case kind == event.Fed && e.At.Sub(v.now.Status.FedAt) > time.Minute:
			return // what follows is of a feed that was taken back
		case kind == event.Peak || kind == event.Target:
			v.run.call = peak.Event{Kind: peak.EventPeak, At: e.At, FeedAt: v.now.Status.FedAt, PeakAt: data.PeakAt, Low: data.PeakAt, High: data.PeakAt,
				RiseRatio: orNaN(data.RiseRatio), RiseMM: orNaN(data.RiseMM), HeightMM: math.NaN()}
			if kind == event.Target {
				v.run.call.Kind = peak.EventTarget
			}
		case kind == event.Over:
			v.run.proof = max(v.run.proof, Overproofing)
		case kind == event.Past:
			v.run.proof = Overproofed
		case kind == event.Falling:
			v.run.fell = e.At
		case kind == event.Collapse && v.run.fell.IsZero():
			v.run.fell = e.At // an earlier version told of the fall then
		}
	}
}

// orNaN is a number that the store keeps where there is one.
func orNaN(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}
