package peak

import (
	"math"
	"time"

	"leavend/peak/fold"
)

// unfolded takes out of a bowl's readings what folds do to its level: what is left
// shows the dough's rise alone.
func (d *Detector) unfolded(at time.Time, heightMM float64) float64 {
	if d.folds == nil {
		d.folds = fold.New()
	}
	mm, folded := d.folds.Add(at, heightMM)
	if folded {
		d.sayFolded(at)
	}
	if math.IsNaN(mm) && !math.IsNaN(heightMM) {
		d.lastGood = d.clock.hours // it is seen, and waits for the surface to be level
	}
	return mm
}

// Folded tells the detector that the baker has folded the dough in a bowl.
func (d *Detector) Folded(at time.Time) []Event {
	d.events = d.events[:0]
	if d.opts.Kind != Bowl {
		return d.events
	}
	if d.folds == nil {
		d.folds = fold.New()
	}
	if _, known := d.folds.Levels(at); !known { // else it was found already
		d.sayFolded(at)
	}
	d.folds.Folded(at)
	return d.events
}

func (d *Detector) sayFolded(at time.Time) {
	h, _ := d.trend.at(0)
	d.say(Event{Kind: EventFolded, PeakAt: at, RiseRatio: d.ratio(h), RiseMM: h - d.feed.base, HeightMM: h})
	d.events[len(d.events)-1].At = at
}

// Levels returns when the surface of a bowl is level again after a fold; false
// where it is.
func (d *Detector) Levels(now time.Time) (time.Time, bool) {
	if d.folds == nil {
		return time.Time{}, false
	}
	return d.folds.Levels(now)
}
