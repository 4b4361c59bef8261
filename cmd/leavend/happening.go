package main

import (
	"time"

	"leavend/peak"
)

// sample is how one vessel looked at one moment, after the detector has taken
// it in. A NaN is a reading that did not come.
type sample struct {
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
	View       view
}

// eventKind names what happened. The first are the words of the replay
// contract; the others are the daemon's own.
type eventKind string

// The kinds of event.
const (
	happenedFed      eventKind = "fed"
	happenedForecast eventKind = "forecast" // kept for scoring, not told as news
	happenedPeak     eventKind = "peak"
	happenedTarget   eventKind = "target"
	happenedCollapse eventKind = "collapse"
	happenedFault    eventKind = "fault"
	happenedCleared  eventKind = "cleared" // a fault is over
)

// eventKinds lists every kind, for counters that start at zero.
func eventKinds() []string {
	return []string{string(happenedFed), string(happenedPeak), string(happenedTarget),
		string(happenedCollapse), string(happenedFault), string(happenedCleared)}
}

// event is one thing that happened. Subject is a vessel's slug, the mat's id,
// or the house's.
type event struct {
	Kind    eventKind
	Subject string
	At      time.Time
	Text    string     // for the baker
	Detail  string     // of a fault or its end, for whoever mends it; may be empty
	Fault   faultKey   // of a fault or its end
	Peak    peak.Event // of what the detector said
	Past    bool       // it lies in a time when the daemon was off, and is told late
}

// faultKey names a fault: whom it befell, what kind it is, and which part is
// to blame where there are several.
type faultKey struct {
	Subject string
	Kind    string
	Part    string
}

// The subjects that are no vessel.
const (
	matID   = "mat"
	houseID = "house"
)

// The kinds of fault beside those of the mat, which package control names.
const (
	faultSensor   = "sensor"   // a sensor does not answer
	faultCurve    = "curve"    // the detector cannot make sense of the readings
	faultStorage  = "storage"  // readings cannot be kept
	faultSettings = "settings" // a change of the config was taken back
	faultBroker   = "broker"   // nobody can be told by MQTT
)
