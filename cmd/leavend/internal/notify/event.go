package notify

import (
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// Kind is a kind of message, as the configuration names it.
type Kind = config.NoticeKind

// The kinds of messages.
const (
	HeadsUp     = config.HeadsUp
	OnTop       = config.OnTop
	Falling     = config.StartsToFall
	TargetSoon  = config.TargetSoon
	AtTarget    = config.Target
	NearRim     = config.NearRim
	FeedDue     = config.FeedDue
	CleanJar    = config.CleanJarDue
	DiscardOld  = config.DiscardOld
	FridgeCheck = config.FridgeCheck
	Worn        = config.SwitchWorn
	PlanStep    = config.PlanStep
	MatFault    = config.MatFault
	SensorFault = config.SensorFault
	Normal      = config.BackToNormal
	Storage     = config.StoreTrouble

	Test Kind = "test" // sent by hand
)

// needsAck reports whether a message of the kind is repeated until it is
// acknowledged.
func needsAck(k Kind) bool { return k == OnTop || k == AtTarget || k == MatFault }

// urgent reports whether the kind keeps no quiet hours and no limit.
func urgent(k Kind) bool { return k == MatFault }

// life is how long a message of the kind is worth sending; see expires for
// those that a forecast bounds.
func life(k Kind) time.Duration {
	switch k {
	case MatFault, Worn:
		return 7 * 24 * time.Hour
	case NearRim:
		return 2 * time.Hour
	case FeedDue, CleanJar, DiscardOld:
		return 48 * time.Hour
	}
	return 24 * time.Hour
}

// EventKind says what happened.
type EventKind uint8

// The kinds of event.
const (
	Fed          EventKind = iota // a vessel was fed
	Peaked                        // its peak was called
	Fell                          // it has fallen well below its top
	Risen                         // dough is at its target
	BakerPresent                  // the baker was there: the jar was lifted, or a button pressed
	AlarmRaised                   // a fault began
	AlarmCleared                  // a fault is over
	FeedOverdue                   // the last feed is too long ago
	BackHome                      // a holiday is over: the last feed was at For, and Count feeds wake the starter up
	JarDirty                      // the jar had too many feeds
	DiscardAged                   // the oldest discard in the discard jar is from For
	RimNear                       // what rises comes near the rim: LeftMM are left, and Until it would go Over; For is its feed
	FridgeAsked                   // a jar is not where it is meant to be since Until: in the fridge if Chilled; For is since when it is meant to be there
	StepAhead                     // a step of the chosen plan that is due tomorrow: as StepDue
	StepDue                       // a step of the chosen plan is due: Part is its name, For its hour, Until its latest, Text what to do
	StepOver                      // it is done or no longer planned; without Part all are
	PlanFails                     // the plan cannot be met any more; Text says what can
	SwitchWorn                    // the mat's switch has switched on Count times, near its Life
	ReadyByFails                  // a vessel will not be ready at its target time, For; Text says what can
	GoesOver                      // dough has risen more than it should; For is when it was ready
	PastBest                      // and is past its best
)

// Event is one thing that happened.
type Event struct {
	Kind   EventKind
	Vessel string    // its slug, or another subject's id
	Name   string    // as the baker calls it
	Bowl   bool      // holds dough
	Bake   bool      // of Peaked and Fell: a bake waits for it
	At     time.Time // when it was found out
	For    time.Time // of Peaked, Risen, Fell: when the top or the target was; of FeedOverdue: the last feed

	RiseRatio float64 // at For; 0 or NaN where it is not known
	RiseMM    float64 // the same in mm

	Fault  Kind   // of AlarmRaised and AlarmCleared: MatFault, SensorFault or Storage
	Part   string // what is broken: tells faults of one subject apart
	Text   string // the fault in a sentence
	Passes bool   // the fault is told once and has no end

	Count int // of JarDirty: feeds since the last clean jar; of SwitchWorn: how often it switched on
	Life  int // of SwitchWorn: how often one like it commonly does

	LeftMM float64 // of RimNear: from the surface to the rim
	TempC  float64 // of FridgeAsked: what the jar's probe shows

	Until time.Time // of StepDue: when it is too late to begin
	Step  string    // of Peaked and Risen: the step of the plan that follows; Text says it, Until is its latest

	Chilled bool // of FeedOverdue: the jar is in the fridge
	Late    bool // of FeedOverdue: longer than it is sure to survive there; of RimNear: it is expected to rise over it
}

// key is the same for the same event told twice. A peak goes by its own
// time; the rest by when it was found out, to the second, since the store keeps
// no more than milliseconds.
func (h Event) key() string {
	at := h.At
	if !h.For.IsZero() {
		at = h.For
	}
	part := h.Part
	if h.Late {
		part = "late"
	}
	return fmt.Sprintf("%d|%s|%s|%s|%d", h.Kind, h.Vessel, h.Fault, part, at.Unix())
}

// Outlook is what is expected of a vessel now.
type Outlook struct {
	Vessel, Name string
	Bowl         bool
	Bake         bool      // a bake waits for it
	At           time.Time // of the top; of dough: of its target
	Low, High    time.Time // the 80 % interval
}

// Notice is what a message says, before it is put into words. It is kept in
// the outbox.
type Notice struct {
	Kind   Kind      `json:"kind"`
	Vessel string    `json:"vessel,omitempty"`
	Name   string    `json:"name,omitempty"`
	Bowl   bool      `json:"bowl,omitempty"`
	Over   bool      `json:"over,omitempty"` // of AtTarget: it has gone on since
	Past   bool      `json:"past,omitempty"` // and is past its best
	Bake   bool      `json:"bake,omitempty"` // of a peak: a bake waits for it
	At     time.Time `json:"at,omitzero"`    // what it is about: the top, the begin of a fault, the last feed

	Low        time.Time `json:"low,omitzero"`
	High       time.Time `json:"high,omitzero"`
	PreviousAt time.Time `json:"told,omitzero"` // of HeadsUp: the time that was said before
	RiseRatio  float64   `json:"rise_ratio,omitempty"`
	RiseMM     float64   `json:"rise_mm,omitempty"`

	Fault   Kind      `json:"fault,omitempty"`   // of Normal: what is over
	Text    string    `json:"text,omitempty"`    // the fault in a sentence
	Until   time.Time `json:"until,omitzero"`    // of a fault that came and went: so far
	Times   int       `json:"times,omitempty"`   // how often it came
	Stays   bool      `json:"stays,omitempty"`   // it still comes and goes
	Count   int       `json:"count,omitempty"`   // feeds in this jar; of Worn: how often it switched on
	Life    int       `json:"life,omitempty"`    // of Worn: how often one like it commonly does
	ReadyBy bool      `json:"wish,omitempty"`    // of PlanStep: no plan is meant, but the target time At
	Step    string    `json:"step,omitempty"`    // of PlanStep: its name; "" where the whole plan is meant
	Ahead   bool      `json:"ahead,omitempty"`   // of PlanStep: it is told the evening before
	Cold    bool      `json:"cold,omitempty"`    // of FeedDue: it is in the fridge; of FridgeCheck: the journal has it there
	Late    bool      `json:"late,omitempty"`    // of FeedDue: too long there; of NearRim: it is expected to rise over it
	LeftMM  float64   `json:"left_mm,omitempty"` // of NearRim: from the surface to the rim
	TempC   float64   `json:"temp_c,omitempty"`  // of FridgeCheck: what its probe shows
	Back    bool      `json:"back,omitempty"`    // of FeedDue: a holiday is over
	Also    []Notice  `json:"also,omitempty"`    // of OnTop and FeedDue: what else the jar wants, and can wait

	Repeat int    `json:"repeat,omitempty"` // the so many-th time it is said again
	AckKey string `json:"ask,omitempty"`    // what an acknowledgement ends
}
