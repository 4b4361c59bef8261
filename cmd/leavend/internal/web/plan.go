package web

import (
	"time"

	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/text"
)

// What a plan is asked for and what is answered goes over the wire as it is.
type (
	PlanAsk    = planning.Ask
	PlanSheet  = planning.Sheet
	Plan       = planning.Plan
	PlanStep   = planning.Step
	ChosenPlan = planning.Chosen
	Weekly     = planning.Weekly
)

// Taste is how a visitor has numbers written where the page cannot write them
// itself. What is empty is as the daemon is configured.
type Taste struct {
	Units    string // metric or us
	Clock    string // 24 or 12
	Language string // a code of text.Languages
}

// TargetTime is when a vessel shall be ready, and how it stands. Times that do not
// belong to the reason are left out.
type TargetTime struct {
	At        time.Time    `json:"at"`
	Over      bool         `json:"over,omitempty"` // it has ended, and this is what became of it
	Reason    string       `json:"reason"`         // no-feed, on-course, ahead, behind, too-early, too-late, keeping, blind-probe, blind-curve, arrived, run-out
	Text      string       `json:"text"`           // the same in one sentence
	Say       text.Message `json:"say"`            // and by its key, with its values
	SetpointC Real         `json:"setpoint_c"`     // what the mat is asked to hold
	ExpectAt  time.Time    `json:"expect_at,omitzero"`
	LowAt     time.Time    `json:"low_at,omitzero"` // with HighAt an 80 % interval
	HighAt    time.Time    `json:"high_at,omitzero"`
	SoonestAt time.Time    `json:"soonest_at,omitzero"` // what the limits of the mat allow
	LatestAt  time.Time    `json:"latest_at,omitzero"`

	UsefulUntil time.Time `json:"useful_until,omitzero"` // of a starter: how long it then stands on its peak
	DegreeHours Real      `json:"degree_hours"`          // above the room since the feed
}
