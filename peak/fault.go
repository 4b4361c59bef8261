package peak

import "math"

const (
	lostHours  = 1.0  // without a usable distance for this long, nothing can be told
	gapHours   = 12.0 // and after this long the feed itself is no longer known
	tellStepMM = 5    // a jump of the level that a person is told of

	coldShare = 0.35 // below this share of its best pace a starter only waits
	thawHours = 0.75 // and it takes this long after the cold to find its pace
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
		d.fault(Fault{Kind: NoDistance})
	}
	if gap > gapHours {
		d.fault(Fault{Kind: FeedLost})
		d.remember()
		d.begin("")
	}
}

// fault tells a person what is wrong with the readings.
func (d *Detector) fault(f Fault) { d.say(Event{Kind: EventFault, Fault: f}) }

// tellStep says that the level jumped.
func (d *Detector) tellStep(by float64) {
	if math.Abs(by) >= tellStepMM {
		d.fault(Fault{Kind: LevelJumped, MM: by})
	}
}

// cold reports whether the jar is, or was until lately, so much colder than
// before that a flat curve means nothing: it stands in the fridge, and its peak
// will come when it has been taken out and is warm again.
func (c *curve) cold() bool {
	w := &c.thermal
	if math.IsNaN(w.tempC) || w.at-w.from < 0.5 {
		return false
	}
	if pace(w.tempC) < coldShare*w.best {
		c.feed.coldAt = w.at
	}
	return w.at-c.feed.coldAt < thawHours
}
