package peak

import (
	"fmt"
	"slices"
)

// Reason says what a forecast waits for. Zero is nothing.
type Reason uint8

const (
	NoReason     Reason = iota
	FewReadings         // too few readings since the feed
	LittleRise          // it has not risen enough
	TooCold             // it stands in the cold, or did until recently
	FloorUnknown        // without the vessel's floor there is no ratio
	NoGrounds           // the curve has no grounds for one yet
)

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
