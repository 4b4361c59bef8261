package web

import "time"

// Span is the part of the past a curve is wanted for.
type Span struct {
	From, To time.Time
	Max      int // most points
}

// Window is a vessel's curve. All columns have the length of At.
type Window struct {
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
	StepS     Real      `json:"step_s"` // width of a bucket; 0 is raw readings
	At        Moments   `json:"at"`
	Ratio     Column    `json:"ratio"`     // mean rise ratio
	RatioLow  Column    `json:"ratio_low"` // minimum and maximum of the bucket
	RatioHigh Column    `json:"ratio_high"`
	HeightMM  Column    `json:"height_mm"`
	TempC     Column    `json:"temp_c"`
	TempLowC  Column    `json:"temp_low_c"`
	TempHighC Column    `json:"temp_high_c"`
	MatOn     Column    `json:"mat_on"` // share of the bucket, 0 to 1
	Marks     []Mark    `json:"marks"`
}

// Mark is an event on the curve.
type Mark struct {
	At   time.Time `json:"at"`
	Kind string    `json:"kind"` // fed, top, target, collapse, fault, starter
	Text string    `json:"text,omitempty"`
}

// FeedCurve is one feed's course. WarmHours is the time a jar at ReferenceC
// would have taken for the same growth; it is empty where warmth is unknown.
type FeedCurve struct {
	Feed       string    `json:"feed"`
	At         time.Time `json:"at"`
	ReferenceC Real      `json:"reference_c"`
	Hours      Column    `json:"hours"`
	WarmHours  Column    `json:"warm_hours"`
	Ratio      Column    `json:"ratio"`
	TempC      Column    `json:"temp_c"`

	// The peak as it was called, in both ways of counting hours, and the rise
	// there; null where none was called. It is the journal's peak.
	PeakHours     Real `json:"peak_hours"`
	PeakWarmHours Real `json:"peak_warm_hours"`
	PeakRatio     Real `json:"peak_ratio"`
}

// Record scores past forecasts of one vessel.
type Record struct {
	Rows []RecordRow `json:"rows"` // one a feed, newest first
}

// RecordRow compares the forecast given some hours before a top with the
// top that came.
type RecordRow struct {
	FeedAt   time.Time `json:"feed_at"`
	MadeAt   time.Time `json:"made_at"`
	TopAt    time.Time `json:"top_at"`  // what came
	SaidAt   time.Time `json:"said_at"` // what was said
	LowAt    time.Time `json:"low_at"`
	HighAt   time.Time `json:"high_at"`
	AheadMin Real      `json:"ahead_min"` // how long before the top it was said
}
