package web

import (
	"context"
	"time"

	"leavend/peak/said"
)

// Steering takes the hour at which a vessel shall be ready, and moves its mat
// so that it is. A vessel that no mat warms is a *Refusal.
type Steering interface {
	// Wish asks for an hour; it replaces the one before.
	Wish(ctx context.Context, vessel string, at time.Time) error
	DropWish(ctx context.Context, vessel string) error
}

// Wish is the hour wished for a vessel and how it stands. Times that do not
// belong to the reason are left out.
type Wish struct {
	At        time.Time `json:"at"`
	Over      bool      `json:"over,omitempty"` // it has ended, and this is what became of it
	Reason    string    `json:"reason"`         // no-feed, on-course, ahead, behind, too-early, too-late, keeping, blind-probe, blind-curve, arrived, run-out
	Text      string    `json:"text"`           // the same in one sentence
	Say       said.Line `json:"say"`            // and with its numbers as values
	SetpointC Real      `json:"setpoint_c"`     // what the mat is asked to hold
	ExpectAt  time.Time `json:"expect_at,omitzero"`
	LowAt     time.Time `json:"low_at,omitzero"` // with HighAt an 80 % interval
	HighAt    time.Time `json:"high_at,omitzero"`
	SoonestAt time.Time `json:"soonest_at,omitzero"` // what the limits of the mat allow
	LatestAt  time.Time `json:"latest_at,omitzero"`
}
