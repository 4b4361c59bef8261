package monitor

import (
	"math"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
)

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
