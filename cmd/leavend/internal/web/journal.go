package web

import (
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Flour is one kind of flour in a feed.
type Flour struct {
	Kind  string `json:"kind"`
	Grams Real   `json:"grams"`
}

// Feed is a feed as the baker wrote it down. Grams of zero are unknown.
type Feed struct {
	ID         string    `json:"id,omitempty"`
	At         time.Time `json:"at,omitzero"` // zero when adding: now
	Found      bool      `json:"found,omitempty"`
	KeptG      Real      `json:"kept_g"`
	Flours     []Flour   `json:"flours"`
	WaterG     Real      `json:"water_g"`
	DiscardG   Real      `json:"discard_g"`
	WaterTempC *Real     `json:"water_temp_c,omitempty"`
	CleanJar   bool      `json:"clean_jar"`
	From       string    `json:"from,omitempty"` // of a levain: the jar that the starter was taken from
	Note       string    `json:"note,omitempty"`
	UndoUntil  time.Time `json:"undo_until,omitzero"`
	InMemory   bool      `json:"in_memory,omitempty"` // there is no disk to keep it on: the next start forgets it
	Corrected  bool      `json:"corrected,omitempty"` // an older version is kept
	Outcome    *Outcome  `json:"outcome,omitempty"`   // worked out, never sent by the page
}

// Outcome is what the curve made of a feed.
type Outcome struct {
	Ratio        string `json:"ratio,omitempty"` // starter : flour : water
	HydrationPct Real   `json:"hydration_pct"`   // of the whole
	RiseRatio    Real   `json:"rise_ratio"`
	HoursToTop   Real   `json:"hours_to_top"`
	HoursOnTop   Real   `json:"hours_on_top"`
	MeanTempC    Real   `json:"mean_temp_c"`
}

// Bake is a loaf with what the baker thought of it.
type Bake struct {
	ID    string    `json:"id,omitempty"`
	At    time.Time `json:"at,omitzero"`
	Stars int       `json:"stars"` // 0 is none given, else 1 to 5
	Note  string    `json:"note"`
	Photo []byte    `json:"photo,omitempty"` // JPEG, only on the way in
	Has   bool      `json:"has_photo,omitempty"`

	Crumb   []string `json:"crumb,omitempty"`
	CoreC   float64  `json:"core_c,omitempty"`   // in the middle, out of the oven
	WeightG float64  `json:"weight_g,omitempty"` // baked
	Dough   *Dough   `json:"dough,omitempty"`    // that it was baked from; never on the way in

	Corrected bool `json:"corrected,omitempty"` // an older version is kept
}

// DiscardMove is discard that went into the discard jar besides a feed's, or
// out of it.
type DiscardMove struct {
	ID    string     `json:"id,omitempty"`
	At    time.Time  `json:"at,omitzero"` // zero when adding: now
	Act   DiscardAct `json:"act"`
	Grams Real       `json:"grams"` // 0 when emptied
	Note  string     `json:"note,omitempty"`
}

// DiscardAct says what became of discard.
type DiscardAct string

// The acts.
const (
	DiscardKept    DiscardAct = "kept"
	DiscardUsed    DiscardAct = "used"
	DiscardEmptied DiscardAct = "emptied"
)

// Book is a page of the journal with its counts.
type Book struct {
	Feeds          []Feed     `json:"feeds"`
	Bakes          []Bake     `json:"bakes"`
	More           bool       `json:"more"` // older feeds exist
	FeedsSinceWash int        `json:"feeds_since_clean_jar"`
	DiscardG       Real       `json:"discard_g"` // in the discard jar
	DiscardSince   time.Time  `json:"discard_since,omitzero"`
	Reminders      []Reminder `json:"reminders"`

	Starters     []Starter     `json:"starters"`      // that began among these feeds, newest first
	DiscardMoves []DiscardMove `json:"discard_moves"` // the latest, newest first
	Signs        []Sign        `json:"signs"`         // what the trade makes of looks and smells
}

// Starter is the beginning of a new starter in a jar.
type Starter struct {
	ID   string    `json:"id,omitempty"`
	At   time.Time `json:"at,omitzero"`
	Note string    `json:"note,omitempty"`
	Feed string    `json:"-"` // the feed that it begins with, only on the way in
}

// Sign is something a baker sees or smells, and what to do about it. No sensor
// here sees any of them.
type Sign struct {
	Name   string `json:"name"`
	Means  string `json:"means"`
	Do     string `json:"do"`
	Throw  bool   `json:"throw,omitempty"` // all of it goes into the bin
	Source string `json:"source"`
}

// Reminder is a rule of the trade that is due.
type Reminder struct {
	Code string       `json:"code"`
	Text string       `json:"text"`
	Say  text.Message `json:"say,omitzero"` // the same as a message
}

// Suggestion is what to keep and add at the next feed.
type Suggestion struct {
	KeepG  Real    `json:"keep_g"`
	Flours []Flour `json:"flours"`
	WaterG Real    `json:"water_g"`
	YieldG Real    `json:"yield_g"`
	Why    string  `json:"why"`
}
