package peak

import (
	"fmt"
	"slices"
)

// Reason says why there is no call or no forecast yet. Zero is none.
type Reason uint8

const (
	NoReason      Reason = iota
	FewReadings          // too few readings since the feed
	LittleRise           // it has not risen enough
	TooCold              // it stands in the cold, or did until recently
	StillRising          // it rises
	FloorUnknown         // without the vessel's floor there is no ratio
	TargetReached        // the bowl stands at its target
	PeakCalled           // the peak has been called
	NoGrounds            // the curve has no grounds for a forecast yet
)

var reasonTexts = [...]string{
	"",
	"too few readings since the feed",
	"it has not risen enough",
	"too cold to tell; it goes on when it is warm again",
	"still rising",
	"the vessel's floor is not known, so there is no ratio; calibrate it",
	"the target is reached",
	"the peak has been called",
	"the curve has no grounds for one yet",
}

// String returns the reason in English, for logs and the command line.
func (r Reason) String() string { return word(reasonTexts[:], int(r)) }

// FaultKind says what is wrong with the readings.
type FaultKind uint8

const (
	NoFault     FaultKind = iota
	NoDistance            // none that could be used has come for an hour
	FeedLost              // none has come for so long that the feed is no longer known
	LevelJumped           // the level jumped and stayed
)

var faultNames = [...]string{"", "no_distance", "feed_lost", "level_jumped"}

// MarshalText writes the kind as a word.
func (k FaultKind) MarshalText() ([]byte, error) { return []byte(faultNames[k]), nil }

// UnmarshalText reads a kind; a word that is not known is no fault.
func (k *FaultKind) UnmarshalText(text []byte) error {
	*k = FaultKind(max(slices.Index(faultNames[:], string(text)), 0))
	return nil
}

// Fault is something about the readings that a person should know.
type Fault struct {
	Kind FaultKind `json:"kind"`
	MM   float64   `json:"mm,omitempty"` // by how much the level jumped
}

// String returns the fault in English, for logs and the command line.
func (f Fault) String() string {
	switch f.Kind {
	case NoDistance:
		return "no usable distance for an hour; until one comes nothing can be said about the jar"
	case FeedLost:
		return fmt.Sprintf("no usable distance for %.0f hours; mark the next feed, for what happened to this one is not known", gapHours)
	case LevelJumped:
		way, by := "rose", f.MM
		if by < 0 {
			way, by = "dropped", -by
		}
		return fmt.Sprintf("the level %s by %.0f mm at once and stayed; the jar was knocked, shifted or has slumped, and the curve goes on from there", way, by)
	}
	return ""
}
