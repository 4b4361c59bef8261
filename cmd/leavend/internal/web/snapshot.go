package web

import (
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Kind says what a vessel holds.
type Kind string

// The kinds of vessel.
const (
	Jar  Kind = "jar"  // starter; we wait for its peak
	Bowl Kind = "bowl" // dough; we wait for a target rise
)

// Stage says in one word where a vessel stands.
type Stage string

// The stages of a vessel.
const (
	Unfed    Stage = "unfed"    // no feed is known
	Settling Stage = "settling" // fed, and not rising yet
	Rising   Stage = "rising"
	OnTop    Stage = "top"     // at its peak now
	Falling  Stage = "falling" // past the peak
	OnTarget Stage = "target"  // dough at its target rise
	Over     Stage = "over"    // dough that has risen more than it should
	Past     Stage = "past"    // dough past its best
	Asleep   Stage = "asleep"  // in the fridge
	Unsure   Stage = "unsure"  // cannot be told; Note says why
)

// Snapshot is everything the page shows at a glance.
type Snapshot struct {
	At      time.Time `json:"at"`
	Zone    string    `json:"zone,omitempty"` // IANA name of the kitchen's time zone
	Demo    bool      `json:"demo,omitempty"` // the data is invented
	Vessels []Vessel  `json:"vessels"`
	Mats    []Mat     `json:"mats"`
	Notices []Notice  `json:"notices"`
	Asks    []Ask     `json:"asks"`
	Next    *PlanStep `json:"next_step,omitempty"` // of the plan that the baker goes by
}

// Ask is a message that is said again until somebody has seen it.
type Ask struct {
	ID     string    `json:"id"`
	Vessel string    `json:"vessel,omitempty"` // or a mat, whose id it is then
	Text   string    `json:"text"`
	Since  time.Time `json:"since"`
}

// Notice is something the baker should know that belongs to no vessel or
// mat, such as a full disk.
type Notice struct {
	Code    string       `json:"code"`
	Text    string       `json:"text"`
	TextSay text.Message `json:"text_say,omitzero"`
	Since   time.Time    `json:"since,omitzero"`
}

// Vessel is one jar or bowl at one moment.
type Vessel struct {
	ID          string       `json:"id"`
	Name        string       `json:"name"`
	Kind        Kind         `json:"kind"`
	Stage       Stage        `json:"stage"`
	Note        string       `json:"note,omitempty"`        // a sentence, mostly why something cannot be told
	NoteSay     text.Message `json:"note_say,omitzero"`     // the same as a message, where it is one
	Height      *Measure     `json:"height,omitempty"`      // mm above the bottom
	Ratio       *Measure     `json:"ratio,omitempty"`       // height / height at the feed
	Temp        *Measure     `json:"temp,omitempty"`        // °C at the vessel
	Humidity    *Measure     `json:"humidity,omitempty"`    // relative, percent
	FedHeightMM Real         `json:"fed_height_mm"`         // null when no feed is known
	InsideMM    Real         `json:"inside_mm"`             // height of the vessel's inside
	TargetRatio Real         `json:"target_ratio"`          // of a bowl, else null
	StaleAfterS int          `json:"stale_after_s"`         // a measure older than this is stale
	Feed        *FeedMark    `json:"feed,omitempty"`        // the last feed
	Forecast    *Forecast    `json:"forecast,omitempty"`    // nil: there are no grounds for one
	Top         *Top         `json:"top,omitempty"`         // the call of this feed
	BestUntil   time.Time    `json:"best_until,omitzero"`   // about how long it stays ready
	NoTemp      bool         `json:"thermometer_out"`       // its thermometer does not answer
	Says        Says         `json:"says"`                  // what the page says of it; filled in here
	Collapse    time.Time    `json:"collapse,omitzero"`     // when the fall set in
	FridgeSince time.Time    `json:"fridge_since,omitzero"` // in the fridge since then
	Used        *Used        `json:"used,omitempty"`        // what the baker did with it since the feed
	Mat         string       `json:"mat,omitempty"`         // id of the mat that warms it
	TargetTime  *TargetTime  `json:"wish,omitempty"`        // when it shall be ready
	Refused     *Refused     `json:"refused,omitempty"`     // the last reading not believed
	RefusedHour int          `json:"refused_in_last_hour"`  // how many in the last hour
}

// FeedMark is what the now screen needs of a feed.
type FeedMark struct {
	ID        string    `json:"id"`
	At        time.Time `json:"at"`
	Found     bool      `json:"found"`               // found in the curve, not pressed
	UndoUntil time.Time `json:"undo_until,omitzero"` // until when one tap takes it back
}

// Forecast is a time for the peak, or for a bowl's target, before it comes.
type Forecast struct {
	MadeAt time.Time `json:"made_at"`
	TopAt  time.Time `json:"top_at"`
	LowAt  time.Time `json:"low_at"`  // with HighAt an 80 % interval
	HighAt time.Time `json:"high_at"` //
	Ratio  Real      `json:"ratio"`   // expected rise ratio there, or null
	Source string    `json:"source"`  // what it is made from: curve, feeds, doughs or practice
	Fan    []FanRow  `json:"fan,omitempty"`
}

// FanRow is one moment of the expected course with its 80 % interval.
type FanRow struct {
	At   time.Time `json:"at"`
	Low  Real      `json:"low"`
	Mid  Real      `json:"mid"`
	High Real      `json:"high"`
}

// Top is the call: when it was made and the moment it is for.
type Top struct {
	CalledAt time.Time `json:"called_at"`
	TopAt    time.Time `json:"top_at"`
	Ratio    Real      `json:"ratio"`
}

// Used is what the baker did with what stood ready.
type Used struct {
	How       string    `json:"how"` // used, shaped or chilled
	At        time.Time `json:"at"`
	UndoUntil time.Time `json:"undo_until,omitzero"` // until when one tap takes it back
}

// Refused is a reading that was not believed, and why.
type Refused struct {
	At     time.Time    `json:"at"`
	What   string       `json:"what"`  // distance, temperature
	Value  Real         `json:"value"` // null when there was none
	Unit   string       `json:"unit"`
	Why    string       `json:"why"`              // a sentence
	WhySay text.Message `json:"why_say,omitzero"` // the same as a message
}

// Setup is what the set-up screen shows about the daemon.
type Setup struct {
	Version string    `json:"version"`
	Started time.Time `json:"started,omitzero"`
	Checks  []Check   `json:"checks"`

	Restore *BackupOffer `json:"restore,omitempty"` // what one may go back to, while the history is damaged
}

// Check is one part of the daemon and how it does.
type Check struct {
	Group string `json:"group"` // sensors, mat, storage, messages, clock ...
	Name  string `json:"name"`
	State string `json:"state"` // ok, warn, bad
	Says  string `json:"says"`
	Do    string `json:"do,omitempty"` // the exact thing to do
}
