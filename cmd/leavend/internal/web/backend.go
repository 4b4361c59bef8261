package web

import (
	"context"
	"io"
	"time"
)

// Backend is what the page needs of the rest of the daemon, in one small
// interface for each part of the page. All must be set.
type Backend struct {
	Watch     Watch
	History   History
	Journal   Journal
	Feeds     Feeds
	Bakes     Bakes
	Discards  Discards
	Starters  Starters
	Fridge    Fridge
	Uses      Uses
	Reminders Reminders
	Mats      Mats
	Push      Push
	ReadyBy   ReadyBy
	Plans     Plans
	Doughs    Doughs
	Depths    Depths
	Exports   Exports
	Holidays  Holidays
	Rules     PlanRules
}

// Watch tells what is so at this moment. Both calls answer from memory and
// return at once: they are made for every change and for every visitor.
type Watch interface {
	Now() Snapshot
	Setup(language string) Setup
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

// Journal reads what the baker did.
type Journal interface {
	// Book returns the feeds before a moment, newest first, at most limit.
	Book(ctx context.Context, vessel string, before time.Time, limit int) (Book, error)
	// Suggest says what to keep and add; needG is the ripe starter wanted in
	// grams, and 0 asks for a feed like the last ones.
	Suggest(ctx context.Context, vessel string, needG float64) (Suggestion, error)
}

// Exports write what is stored, for programs. Each writes as it reads, so that
// a year needs no memory. An empty vessel is all of them.
type Exports interface {
	// Recording writes one vessel's readings as `leavend replay` reads them.
	Recording(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error
	// Table writes a number a row, as CSV.
	Table(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error
	// Lines writes points of the line protocol.
	Lines(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error
	// JournalFile writes the journal as JSON.
	JournalFile(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error
	// Known returns ErrUnknown for a vessel that does not exist.
	Known(vessel string) error
}

// Feeds are entered, corrected and taken away. A change returns only once it
// is stored, here and in the interfaces that follow.
type Feeds interface {
	AddFeed(ctx context.Context, vessel string, f Feed) (Feed, error)
	// CorrectFeed replaces a feed's details; the old ones are kept as history.
	CorrectFeed(ctx context.Context, vessel, feed string, f Feed) (Feed, error)
	UndoFeed(ctx context.Context, vessel, feed string) error
}

// Bakes are loaves with what the baker thought of them.
type Bakes interface {
	AddBake(ctx context.Context, vessel string, b Bake) (Bake, error)
	// CorrectBake replaces what is known of a bake, and its photo where there is
	// a new one; what it was before is kept as history.
	CorrectBake(ctx context.Context, vessel, bake string, b Bake) (Bake, error)
	UndoBake(ctx context.Context, vessel, bake string) error
	// Loaves tells where the best loaves ended their bulk, and of which nothing is
	// written down.
	Loaves(ctx context.Context) (Loaves, error)
	// UseStop has plans end the bulk of a kind of loaf there, or by the table again.
	UseStop(ctx context.Context, kind LoafKind, use bool) error
	// BakePhoto returns a stored photo as JPEG.
	BakePhoto(ctx context.Context, vessel, bake string) ([]byte, error)
}

// Discards is the discard jar.
type Discards interface {
	// MoveDiscard notes that discard went into the discard jar or out of it.
	MoveDiscard(ctx context.Context, vessel string, m DiscardMove) (DiscardMove, error)
	UndoDiscard(ctx context.Context, vessel, move string) error
}

// Starters begin again in a jar.
type Starters interface {
	// NewStarter says that a jar holds another starter, from s.Feed on or, where
	// that is empty, from now on: what was learnt does not count for it.
	NewStarter(ctx context.Context, vessel string, s Starter) (Starter, error)
	UndoStarter(ctx context.Context, vessel, starter string) error
}

// Fridge is where a jar may stand.
type Fridge interface {
	// Chill says that a jar went into the fridge, or came out of it.
	Chill(ctx context.Context, vessel string, in bool) error
}

// Uses are what the baker does with a starter at its peak, or with dough that
// has risen.
type Uses interface {
	// Use says that it was used, shaped or chilled just now, or that it was not.
	// What is not done with such a vessel is a *Refusal.
	Use(ctx context.Context, vessel, how string) (Used, error)
	Unuse(ctx context.Context, vessel string) error
}

// Reminders are the messages that are sent again until somebody has seen them.
type Reminders interface {
	// Seen says that somebody has seen a message, which is then not said again.
	Seen(ctx context.Context, ask string) error
}

// Mats change what a mat does. Whoever is behind this holds the limits and the
// cutoff itself and answers with a *Refusal where it will not; this package
// checks the limits once more before it asks.
type Mats interface {
	SetSetpoint(ctx context.Context, mat string, tempC float64) error
	SetSchedule(ctx context.Context, mat string, steps []Step) error
	// Allow permits or forbids a mat to heat at all. The first permission
	// needs the cautions accepted.
	Allow(ctx context.Context, mat string, on, cautionsAccepted bool) error
	// Acknowledge clears a latched fault, unless its cause still holds.
	Acknowledge(ctx context.Context, fault string) error
}

// Push tells browsers. A browser subscribes with its maker's push service; what
// comes of that is handed on here.
type Push interface {
	// PushKey is the public key that a browser must be given; "" where no one
	// can be told by push.
	PushKey() string
	AddDevice(ctx context.Context, d PushDevice) error
	RemoveDevice(ctx context.Context, endpoint string) error
	// TryPush sends a test to every device, and says what kept it from one.
	TryPush(ctx context.Context) error
}

// ReadyBy takes the time at which a vessel should be ready, and moves its mat
// for it. A vessel that no mat warms is a *Refusal.
type ReadyBy interface {
	// SetTargetTime replaces the one before.
	SetTargetTime(ctx context.Context, vessel string, at time.Time) error
	ClearTargetTime(ctx context.Context, vessel string) error
}

// Depths tell how far a vessel's sensor looks down.
type Depths interface {
	// Depth is what the sensor over a vessel has said since a moment.
	Depth(ctx context.Context, vessel string, since time.Time) (WalkReading, error)
}

// Doughs take what the baker does to a dough. A vessel that is no bowl is a *Refusal.
type Doughs interface {
	// Fold says that the dough in a bowl was stretched and folded just now.
	Fold(ctx context.Context, vessel string) error
}

// Plans are ways to bread by a certain time.
type Plans interface {
	// Plans answers a question; what it shows may be chosen for a while.
	Plans(ctx context.Context, ask PlanAsk) (PlanSheet, error)
	// ChosenPlan is the plan that the baker goes by, nil if there is none, and
	// the names of all recipes.
	ChosenPlan() (*ChosenPlan, []string)
	ChoosePlan(ctx context.Context, id string) error
	DropPlan(ctx context.Context) error
	// WeeklyPlan is the loaf of every week, nil if there is none. Without days
	// SetWeeklyPlan ends it.
	WeeklyPlan() *Weekly
	SetWeeklyPlan(ctx context.Context, w Weekly) error
	SkipWeeklyPlan(ctx context.Context) error
	// PlanStepDone notes that a step of the chosen plan is done, and all before.
	PlanStepDone(ctx context.Context, step string) error
	// PlanCalendar is the chosen plan, or one that was shown, as iCalendar.
	PlanCalendar(ctx context.Context, id string, t Taste) ([]byte, error)
}

// PushDevice is a browser's subscription, as the browser gives it.
type PushDevice struct {
	Endpoint string `json:"endpoint"`
	P256dh   string `json:"p256dh"` // base64url
	Auth     string `json:"auth"`   // base64url
	Name     string `json:"name"`
}
