package peak

import (
	"strconv"
	"time"

	"leavend/peak/growth"
)

// Kind tells what stands under the sensor.
type Kind uint8

const (
	Jar  Kind = iota // starter: the detector waits for its peak
	Bowl             // dough: the detector waits for a target rise
)

// String returns the word of the trade.
func (k Kind) String() string {
	if k == Bowl {
		return "bowl"
	}
	return "jar"
}

// Opts says what is known about a vessel. The zero value is a jar about which
// nothing is known.
type Opts struct {
	Kind Kind

	// TargetRatio is the rise a bowl waits for, as height over height at the
	// feed; 0 means 1.75. A jar ignores it.
	TargetRatio float64

	// FloorKnown says that heights are above the vessel's floor, so that rise
	// ratios exist. Without it a height is only good for differences.
	FloorKnown bool

	// History holds past feeds of this starter, oldest first. They sharpen
	// the forecast; at most the last 12 are used.
	History []Feed
}

// EventKind names what happened.
type EventKind uint8

const (
	EventFed      EventKind = iota // a feed, marked by the baker or found in the curve
	EventForecast                  // a time for the peak (of a bowl: for the target) before it comes
	EventPeak                      // the call: the peak is here; once a feed
	EventTarget                    // a bowl stands at its target rise; once a feed
	EventCollapse                  // the jar has fallen well below its peak; once a feed
	EventFolded                    // a bowl was stretched and folded; its level says nothing for some minutes
	EventFault                     // something about the readings that a person should know
)

var eventNames = [...]string{"fed", "forecast", "peak", "target", "collapse", "folded", "fault"}

// String returns the word that stands in recordings' events.
func (k EventKind) String() string { return word(eventNames[:], int(k)) }

// word returns the i-th word, and its number where there is none.
func word(words []string, i int) string {
	if i < len(words) {
		return words[i]
	}
	return strconv.Itoa(i)
}

// Event is one thing the detector has to say. Fields that do not belong to
// the kind are zero; RiseRatio is NaN where the floor is not known.
type Event struct {
	Kind      EventKind
	At        time.Time // when it was said: the time of the reading that caused it
	FeedAt    time.Time // the feed it belongs to, back-dated for a found one
	PeakAt    time.Time // peak: where the top was; forecast: where it is expected; target: when it was passed
	Low, High time.Time // the 80 % interval around PeakAt
	RiseRatio float64   // height over height at the feed, at PeakAt (fed: 1)
	RiseMM    float64   // rise since the feed at PeakAt, mm
	HeightMM  float64   // height at PeakAt, mm, in the caller's own terms
	Source    string    // fed: "marked" or "found"
	Fault     Fault     // fault: what a person should know
}

// Forecast is what is expected of the running feed.
type Forecast struct {
	PeakAt    time.Time // median
	Low, High time.Time // 80 % interval
	RiseMM    float64   // expected rise at the peak, mm
	RiseRatio float64   // the same as a ratio; NaN where the floor is not known
}

// Stage says how far the running feed has come.
type Stage uint8

const (
	Waiting   Stage = iota // no feed has been seen and nothing moves
	Lag                    // fed, not yet rising
	Rising                 // rising
	AtPeak                 // the top has been called and the jar still stands near it
	Falling                // the jar is past its peak
	Collapsed              // it has lost more than half of its rise
	Lost                   // readings have been missing too long to tell
)

var stageNames = [...]string{"waiting", "lag", "rising", "peak", "falling", "collapsed", "lost"}

// String returns the stage in one lower-case word.
func (s Stage) String() string { return word(stageNames[:], int(s)) }

// Refused counts the readings that were not used, by reason. The counts run
// from New on and never go back.
type Refused struct {
	Missing int // no distance came (NaN)
	Bad     int // infinite
	Late    int // not after the reading before it
	Spike   int // alone and far from the curve
	Away    int // the jar was not under the sensor, or something was in the way
	Wild    int // the readings of a minute did not agree with each other
}

// Status is the detector's view after the last reading.
type Status struct {
	Stage         Stage
	HeightMM      float64   // smoothed height in the caller's own terms; NaN before the first bin
	RiseMM        float64   // rise since the feed
	RiseRatio     float64   // NaN where the floor is not known
	SpeedMMH      float64   // mm per hour; negative while falling
	WanderMM      float64   // standard deviation of what wanders over minutes and no averaging takes off
	FedAt         time.Time // zero when no feed is known
	FedSource     string    // "marked", "found", or "" when the curve just began
	Peak          Event     // the call; zero (Peak.At.IsZero) before it
	WhyNoForecast Reason    // what a forecast waits for; none when there is one, or none to come
	Refused       Refused
}

// Pace returns how fast a starter lives at tempC relative to 25 °C (see growth).
func Pace(tempC float64) float64 { return growth.Pace(tempC) }
