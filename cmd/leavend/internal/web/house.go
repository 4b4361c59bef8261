package web

import (
	"context"
	"math"
	"strconv"
	"time"

	"leavend/peak/said"
)

// House is all that the page needs of the rest of the daemon. The wiring
// builds it from the detector, the thermostat and the store; this package
// knows none of them.
type House interface {
	Watch
	History
	Journal
	Warmth
	Pusher
	Steering
	Baking
}

// Watch tells what is so at this moment. Both calls answer from memory and
// return at once: they are made for every change and for every visitor.
type Watch interface {
	Now() Kitchen
	Setup() Setup
}

// History answers about the past. A vessel that does not exist is ErrUnknown.
type History interface {
	// Window returns one vessel's curve between two moments in at most
	// span.Max points, peaks kept.
	Window(ctx context.Context, vessel string, span Span) (Window, error)
	// FeedCurve returns one feed's curve against the hours since the feed.
	FeedCurve(ctx context.Context, vessel, feed string) (FeedCurve, error)
	// Record tells how past forecasts of this vessel turned out.
	Record(ctx context.Context, vessel string) (Record, error)
	// Refused returns the latest readings that were not believed, newest first.
	Refused(ctx context.Context, vessel string) ([]Refused, error)
}

// Journal keeps what the baker did. A change returns only once it is stored.
type Journal interface {
	// Book returns the feeds before a moment, newest first, at most limit.
	Book(ctx context.Context, vessel string, before time.Time, limit int) (Book, error)
	AddFeed(ctx context.Context, vessel string, f Feed) (Feed, error)
	// CorrectFeed replaces a feed's details; the old ones are kept as history.
	CorrectFeed(ctx context.Context, vessel, feed string, f Feed) (Feed, error)
	UndoFeed(ctx context.Context, vessel, feed string) error
	// Suggest says what to keep and add; needG is the ripe starter wanted in
	// grams, and 0 asks for a feed like the last ones.
	Suggest(ctx context.Context, vessel string, needG float64) (Suggestion, error)
	AddBake(ctx context.Context, vessel string, b Bake) (Bake, error)
	// CorrectBake replaces what is known of a bake, and its photo where there is
	// a new one; what it was before is kept as history.
	CorrectBake(ctx context.Context, vessel, bake string, b Bake) (Bake, error)
	UndoBake(ctx context.Context, vessel, bake string) error
	// MoveDiscard notes that discard went into the discard jar or out of it.
	MoveDiscard(ctx context.Context, vessel string, m DiscardMove) (DiscardMove, error)
	UndoDiscard(ctx context.Context, vessel, move string) error
	// NewStarter says that a jar holds another starter, from s.Feed on or, where
	// that is empty, from now on: what was learnt does not count for it.
	NewStarter(ctx context.Context, vessel string, s Starter) (Starter, error)
	UndoStarter(ctx context.Context, vessel, starter string) error
	// Chill says that a jar went into the fridge, or came out of it.
	Chill(ctx context.Context, vessel string, in bool) error
	// Seen says that somebody has seen a message, which is then not said again.
	Seen(ctx context.Context, ask string) error
	// BakePhoto returns a stored photo as JPEG.
	BakePhoto(ctx context.Context, vessel, bake string) ([]byte, error)
}

// Warmth changes what the mat does. The house holds the limits and the
// cutoff itself and answers with a *Refusal where it will not; this package
// checks the limits once more before it asks.
type Warmth interface {
	SetSetpoint(ctx context.Context, mat string, tempC float64) error
	SetSchedule(ctx context.Context, mat string, steps []Step) error
	// Allow permits or forbids a mat to heat at all. The first permission
	// needs the cautions accepted.
	Allow(ctx context.Context, mat string, on, cautionsAccepted bool) error
	// Acknowledge clears a latched fault, unless its cause still holds.
	Acknowledge(ctx context.Context, fault string) error
}

// Pusher tells browsers by push. A browser subscribes with its maker's push
// service; what comes of that is handed on here.
type Pusher interface {
	// PushKey is the public key that a browser must be given; "" where nobody
	// can be told by push.
	PushKey() string
	AddDevice(ctx context.Context, d PushDevice) error
	RemoveDevice(ctx context.Context, endpoint string) error
	// TryPush sends a test to every device, and says what kept it from one.
	TryPush(ctx context.Context) error
}

// PushDevice is a browser's subscription, as the browser gives it.
type PushDevice struct {
	Endpoint string `json:"endpoint"`
	P256dh   string `json:"p256dh"` // base64url
	Auth     string `json:"auth"`   // base64url
	Name     string `json:"name"`
}

// Real is a number on its way to the page: what is not finite becomes null,
// and digits beyond a tenth of a thousandth are dropped.
type Real float64

// MarshalJSON writes null for what JSON has no number for.
func (r Real) MarshalJSON() ([]byte, error) {
	return appendReal(nil, float64(r)), nil
}

func appendReal(b []byte, v float64) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(b, "null"...)
	}
	rounded := math.Round(v*1e4) / 1e4
	if math.IsInf(rounded, 0) { // v is so large that the scaling overflowed
		rounded = v
	}
	if rounded == 0 {
		rounded = 0 // no negative zero
	}
	format := byte('f')
	if math.Abs(rounded) >= 1e15 {
		format = 'g'
	}
	return strconv.AppendFloat(b, rounded, format, -1, 64)
}

// Column is one column of a series. A gap is NaN here and null on the wire.
type Column []float64

// MarshalJSON writes gaps as null.
func (c Column) MarshalJSON() ([]byte, error) {
	b := make([]byte, 0, 8*len(c)+2)
	b = append(b, '[')
	for i, v := range c {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendReal(b, v)
	}
	return append(b, ']'), nil
}

// Moments is a column of times. On the wire it is Unix seconds, for a
// thousand written-out times weigh more than the curve itself.
type Moments []time.Time

// MarshalJSON writes Unix seconds.
func (m Moments) MarshalJSON() ([]byte, error) {
	b := make([]byte, 0, 11*len(m)+2)
	b = append(b, '[')
	for i, t := range m {
		if i > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendInt(b, t.Unix(), 10)
	}
	return append(b, ']'), nil
}

// Measure is a number with the moment it was taken, so that the page can
// always say how old it is.
type Measure struct {
	Value Real      `json:"value"`
	At    time.Time `json:"at"`
}

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

// Kitchen is everything the page shows at a glance.
type Kitchen struct {
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
	Code  string    `json:"code"`
	Text  string    `json:"text"`
	Since time.Time `json:"since,omitzero"`
}

// Vessel is one jar or bowl at one moment.
type Vessel struct {
	ID          string    `json:"id"`
	Name        string    `json:"name"`
	Kind        Kind      `json:"kind"`
	Stage       Stage     `json:"stage"`
	Note        string    `json:"note,omitempty"`        // a sentence, mostly why something cannot be told
	Height      *Measure  `json:"height,omitempty"`      // mm above the bottom
	Ratio       *Measure  `json:"ratio,omitempty"`       // height / height at the feed
	Temp        *Measure  `json:"temp,omitempty"`        // °C at the vessel
	Humidity    *Measure  `json:"humidity,omitempty"`    // relative, percent
	FedHeightMM Real      `json:"fed_height_mm"`         // null when no feed is known
	InsideMM    Real      `json:"inside_mm"`             // height of the vessel's inside
	TargetRatio Real      `json:"target_ratio"`          // of a bowl, else null
	StaleAfterS int       `json:"stale_after_s"`         // a measure older than this is stale
	Feed        *FeedMark `json:"feed,omitempty"`        // the last feed
	Forecast    *Forecast `json:"forecast,omitempty"`    // nil: there are no grounds for one
	Top         *Top      `json:"top,omitempty"`         // the call of this feed
	BestUntil   time.Time `json:"best_until,omitzero"`   // about how long it stays ready
	NoTemp      bool      `json:"thermometer_out"`       // its thermometer does not answer
	Says        Says      `json:"says"`                  // what the page says of it; filled in here
	Collapse    time.Time `json:"collapse,omitzero"`     // when the fall set in
	FridgeSince time.Time `json:"fridge_since,omitzero"` // in the fridge since then
	Mat         string    `json:"mat,omitempty"`         // id of the mat that warms it
	Wish        *Wish     `json:"wish,omitempty"`        // the hour it shall be ready
	Refused     *Refused  `json:"refused,omitempty"`     // the last reading not believed
	RefusedHour int       `json:"refused_in_last_hour"`  // how many in the last hour
}

// FeedMark is what the now screen needs of a feed.
type FeedMark struct {
	ID        string    `json:"id"`
	At        time.Time `json:"at"`
	Found     bool      `json:"found"`               // found in the curve, nobody pressed
	UndoUntil time.Time `json:"undo_until,omitzero"` // until when one tap takes it back
}

// Forecast is a time for the peak, or for a bowl's target, before it comes.
type Forecast struct {
	MadeAt time.Time `json:"made_at"`
	TopAt  time.Time `json:"top_at"`
	LowAt  time.Time `json:"low_at"`  // with HighAt an 80 % interval
	HighAt time.Time `json:"high_at"` //
	Ratio  Real      `json:"ratio"`   // expected rise ratio there, or null
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

// Refused is a reading that was not believed, and why.
type Refused struct {
	At    time.Time `json:"at"`
	What  string    `json:"what"`  // distance, temperature
	Value Real      `json:"value"` // null when there was none
	Unit  string    `json:"unit"`
	Why   string    `json:"why"` // a sentence
}

// Mat is one heat mat at one moment.
type Mat struct {
	ID          string    `json:"id"`
	Name        string    `json:"name"`
	Allowed     bool      `json:"allowed"` // the baker lets it heat
	Accepted    bool      `json:"cautions_accepted"`
	Cautions    []string  `json:"cautions,omitempty"` // shown before the first switch-on
	On          bool      `json:"on"`
	Since       time.Time `json:"since,omitzero"`       // of the present on or off
	Reason      string    `json:"reason"`               // a sentence: why it is on or off
	ReasonSay   said.Line `json:"reason_say,omitempty"` // and with its numbers as values
	SetpointC   Real      `json:"setpoint_c"`           // what the baker set
	SteeringC   Real      `json:"steering_c"`           // what holds now, by schedule or plan; null: the setpoint
	LowC        Real      `json:"low_c"`                // limits of the setpoint
	HighC       Real      `json:"high_c"`               //
	HysteresisC Real      `json:"hysteresis_c"`         //
	CutoffC     Real      `json:"cutoff_c"`             // of the vessel
	MatCutoffC  Real      `json:"mat_cutoff_c"`         // of the mat's surface, or null
	Temp        *Measure  `json:"temp,omitempty"`       // what it steers by
	MatTemp     *Measure  `json:"mat_temp,omitempty"`
	RoomTemp    *Measure  `json:"room_temp,omitempty"`
	OnShareDay  Real      `json:"on_share_day"` // 0 to 1 of the last 24 hours, or null
	Energy      []Energy  `json:"energy"`       // drawn; empty where the watts are not known
	Switches    int       `json:"switches"`     // how often it was switched on altogether
	SwitchLife  int       `json:"switch_life"`  // how often its switch commonly can; 0: for ever
	SwitchWorn  bool      `json:"switch_worn"`  // it comes near to that
	Steps       []Step    `json:"schedule"`
	StepsFixed  bool      `json:"schedule_fixed,omitempty"` // the page may show the schedule and not change it
	Faults      []Fault   `json:"faults"`
}

// Energy is about what a mat has drawn in a time.
type Energy struct {
	Of   EnergyOf  `json:"of"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	KWh  Real      `json:"kwh"`
}

// EnergyOf says which time is meant.
type EnergyOf string

// The times that are told of.
const (
	EnergyDay   EnergyOf = "day"   // the last 24 hours, or since it is counted
	EnergyNight EnergyOf = "night" // the last night, or this one so far
	EnergyFeed  EnergyOf = "feed"  // since the vessel on the mat was fed
)

// Step is one line of a day's schedule: from this clock time on, this
// setpoint.
type Step struct {
	From      string `json:"from"` // HH:MM of the kitchen's clock
	SetpointC Real   `json:"setpoint_c"`
}

// Fault keeps a mat off, latched until the baker acknowledges it.
type Fault struct {
	ID     string    `json:"id"`
	Kind   string    `json:"kind"` // cutoff, stale, no-gain, stuck, write ...
	Text   string    `json:"text"` // what happened, as a sentence
	Do     string    `json:"do,omitempty"`
	Since  time.Time `json:"since"`
	Holds  bool      `json:"holds"`             // the cause is still there: it cannot be acknowledged
	Why    string    `json:"why,omitempty"`     // why it still holds
	WhySay said.Line `json:"why_say,omitempty"` // and with its numbers as values
}

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
}

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
	Note       string    `json:"note,omitempty"`
	UndoUntil  time.Time `json:"undo_until,omitzero"`
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
	Code string `json:"code"`
	Text string `json:"text"`
}

// Suggestion is what to keep and add at the next feed.
type Suggestion struct {
	KeepG  Real    `json:"keep_g"`
	Flours []Flour `json:"flours"`
	WaterG Real    `json:"water_g"`
	YieldG Real    `json:"yield_g"`
	Why    string  `json:"why"`
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

// Setup is what the set-up screen shows about the daemon.
type Setup struct {
	Version string    `json:"version"`
	Started time.Time `json:"started,omitzero"`
	Checks  []Check   `json:"checks"`
}

// Check is one part of the daemon and how it does.
type Check struct {
	Group string `json:"group"` // sensors, mat, storage, messages, clock ...
	Name  string `json:"name"`
	State string `json:"state"` // ok, warn, bad
	Says  string `json:"says"`
	Do    string `json:"do,omitempty"` // the exact thing to do
}
