package monitor

import (
	"time"

	"leavend/cmd/leavend/internal/event"
)

// Sample is how one vessel looked at one moment, after the detector has taken
// it in. A NaN is a reading that did not come.
type Sample struct {
	Vessel     string // the vessel's slug
	At         time.Time
	DistanceMM float64
	HeightMM   float64 // above the vessel's floor; NaN without calibration
	SurfaceMM  float64 // the distance, where it was believed and there is no calibration; else NaN
	TempC      float64 // of the vessel
	MatC       float64 // of the mat under it
	RoomC      float64
	MatOn      float64 // 1 while the mat under it heats, else 0; NaN without a mat
	Status     string  // the ranger's own word
	Stage      Stage   // as far as the curve alone tells
	Away       int     // readings since the start that found the vessel away
}

// The hub of this daemon carries samples.
type (
	Hub      = event.Hub[Sample]
	Item     = event.Item[Sample]
	Listener = event.Listener[Sample]
)
