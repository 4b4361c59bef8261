package peak

import (
	"fmt"
	"math"
)

const (
	lostHours  = 1.0  // without a usable distance for this long, nothing can be told
	gapHours   = 12.0 // and after this long the feed itself is no longer known
	tellStepMM = 5    // a jump of the level that a person is told of

	coldShare = 0.35 // below this share of its best pace a starter only waits
	thawHours = 1.5  // and it takes this long after the cold to find its pace
)

// watchGap looks at how long no usable distance has come.
func (d *Detector) watchGap(now float64) {
	if !d.trend.begun {
		return
	}
	gap := now - d.lastGood
	if gap > lostHours && !d.lost {
		d.lost = true
		d.hasForecast = false
		d.fault("no usable distance for an hour; until one comes nothing can be said about the jar")
	}
	if gap > gapHours {
		d.fault(fmt.Sprintf("no usable distance for %.0f hours; mark the next feed, for what happened to this one is not known", gapHours))
		d.remember()
		d.begin("")
	}
}

// fault tells a person what is wrong with the readings.
func (d *Detector) fault(text string) { d.say(Event{Kind: EventFault, Fault: text}) }

// tellStep says that the level jumped.
func (d *Detector) tellStep(by float64) {
	if math.Abs(by) < tellStepMM {
		return
	}
	way := "rose"
	if by < 0 {
		way = "dropped"
	}
	d.fault(fmt.Sprintf("the level %s by %.0f mm at once and stayed; the jar was knocked, shifted or has slumped, and the curve goes on from there", way, math.Abs(by)))
}

// cold reports whether the jar is, or was until lately, so much colder than
// before that a flat curve means nothing: it stands in the fridge, and its top
// will come when it has been taken out and is warm again.
func (d *Detector) cold() bool {
	w := &d.warmth
	if math.IsNaN(w.tempC) || w.at-w.from < 0.5 {
		return false
	}
	if pace(w.tempC) < coldShare*w.best {
		d.feed.coldAt = w.at
	}
	return w.at-d.feed.coldAt < thawHours
}
