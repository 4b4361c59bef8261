package web

import (
	"context"
	"slices"
)

// Messages are who is told, and what, and when.
type Messages interface {
	// Recipients are those of the configuration, without their addresses.
	Recipients(ctx context.Context) (Recipients, error)
	// TryAddress sends a test to an address now.
	TryAddress(ctx context.Context, address string) error
	// SetRecipient writes one into the configuration, a new one too. The daemon
	// starts again with it when begin is called.
	SetRecipient(ctx context.Context, r Recipient, address string) (begin func(), err error)
	// RemoveRecipient takes one out.
	RemoveRecipient(ctx context.Context, name string) (begin func(), err error)
}

// Recipients are who is told.
type Recipients struct {
	All       []Recipient `json:"recipients"`
	SleepFrom string      `json:"sleep_from"` // the baker's hours of sleep, as the plan knows them
	SleepTo   string      `json:"sleep_to"`
	Blocked   string      `json:"blocked,omitempty"` // the code of why nothing can be changed here
}

// Recipient is one who is told. Hours are 22:30; both empty are no quiet hours.
type Recipient struct {
	Name      string   `json:"name"`
	Kind      string   `json:"kind"` // what stands before :// in the address; "" where that cannot be told
	About     []string `json:"about"`
	QuietFrom string   `json:"quiet_from"`
	QuietTo   string   `json:"quiet_to"`
}

// Topics are what a recipient may be told about, each with the kinds of message
// that belong to it, by their names in the configuration.
func Topics() []Topic {
	return []Topic{
		{"peak", []string{"heads-up", "top", "falling"}},
		{"dough", []string{"target-soon", "target", "near-rim"}},
		{"feeding", []string{"feed-due", "clean-jar-due", "discard-old", "fridge-check"}},
		{"plan", []string{"plan"}},
		{"faults", []string{"mat-fault", "sensor-fault", "store-trouble", "switch-worn", "back-to-normal"}},
	}
}

// Topic is something that a recipient may be told about.
type Topic struct {
	Name  string
	Kinds []string
}

// About are the topics of which at least one kind is among those.
func About(kinds []string) []string {
	about := []string{}
	for _, t := range Topics() {
		if slices.ContainsFunc(t.Kinds, func(k string) bool { return slices.Contains(kinds, k) }) {
			about = append(about, t.Name)
		}
	}
	return about
}
