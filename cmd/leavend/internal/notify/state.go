package notify

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"
)

// state is what is known again after a restart.
type state struct {
	Heard     map[string]time.Time    `json:"heard"` // events dealt with, by key
	Vessels   map[string]*vesselState `json:"vessels"`
	Incidents map[string]*incident    `json:"troubles"`
	Asks      map[string]*ask         `json:"asks"`
	Steps     map[string]planStep     `json:"steps,omitempty"` // of the chosen plan, told and not done, by name
}

// planStep is a step of the chosen plan.
type planStep struct {
	Vessel string    `json:"vessel"`
	At     time.Time `json:"at"`
}

// vesselState is what was said of the running feed.
type vesselState struct {
	Topped   bool                 `json:"topped,omitempty"` // its top or target was told
	Came     bool                 `json:"came,omitempty"`   // somebody has been there since
	HeadsUp  map[string]time.Time `json:"heads_up"`         // by recipient: the time told
	Again    map[string]int       `json:"again,omitempty"`  // how often it was told anew, by recipient
	Soon     map[string]bool      `json:"soon"`             // by recipient: told of the target
	FeedDue  time.Time            `json:"feed_due,omitzero"`
	FeedLate bool                 `json:"feed_late,omitempty"` // the second word was said
	CleanJar time.Time            `json:"clean_jar,omitzero"`
}

// incident is an alarm from its begin until it has been over for a while.
type incident struct {
	Subject string    `json:"subject"`
	Name    string    `json:"name"`
	Kind    Kind      `json:"kind"`
	Text    string    `json:"text"`
	Since   time.Time `json:"since"`
	Changed time.Time `json:"changed"` // last began or ended
	Told    time.Time `json:"told"`    // last message about it
	Times   int       `json:"times"`
	Stands  bool      `json:"stands"`
	Passes  bool      `json:"passes,omitempty"` // has no end
	Unsure  bool      `json:"unsure,omitempty"` // stood before a restart
}

// ask is something that is said again until somebody comes.
type ask struct {
	Notice Notice          `json:"notice"`
	Said   map[string]said `json:"said"` // by recipient
}

type said struct {
	Times int       `json:"times"`
	Last  time.Time `json:"last"`
}

// heardFor is how long an event is known to have been dealt with.
const heardFor = 72 * time.Hour

// recall reads the memory.
func (n *Notifier) recall(ctx context.Context) error {
	known, err := n.memory.State(ctx, stateName, &n.state)
	if err != nil {
		return fmt.Errorf("recall: %w", err)
	}
	n.changed = !known
	if n.state.Heard == nil {
		n.state.Heard = map[string]time.Time{}
	}
	if n.state.Vessels == nil {
		n.state.Vessels = map[string]*vesselState{}
	}
	if n.state.Incidents == nil {
		n.state.Incidents = map[string]*incident{}
	}
	if n.state.Asks == nil {
		n.state.Asks = map[string]*ask{}
	}
	for _, t := range n.state.Incidents {
		// Whether it still stands, the house will say; if it does not within the
		// time that any fault has to stay away, it is over.
		t.Unsure, t.Stands, t.Changed = t.Stands, false, n.o.Now()
	}
	if known, err = n.memory.State(ctx, stateName+" key", &n.key); err != nil {
		return fmt.Errorf("recall: %w", err)
	}
	if !known || len(n.key) != keyLength {
		n.key = make([]byte, keyLength)
		_, _ = rand.Read(n.key) // it never fails
		if err := n.memory.SetState(ctx, stateName+" key", n.key); err != nil {
			n.o.Log.Warn("links in messages will not outlive this run", "err", err)
		}
	}
	return nil
}

// keyLength is that of the key which signs links, in bytes.
const keyLength = 32

// vessel returns the memory of one vessel. The caller holds mu.
func (n *Notifier) vessel(slug string) *vesselState {
	v := n.state.Vessels[slug]
	if v == nil {
		v = &vesselState{}
		n.state.Vessels[slug] = v
	}
	if v.HeadsUp == nil {
		v.HeadsUp = map[string]time.Time{}
	}
	if v.Again == nil {
		v.Again = map[string]int{}
	}
	if v.Soon == nil {
		v.Soon = map[string]bool{}
	}
	return v
}

// seenBefore notes an event and reports whether it was noted before. The
// caller holds mu.
func (n *Notifier) seenBefore(h Event) bool {
	if _, known := n.state.Heard[h.key()]; known {
		return true
	}
	for k, at := range n.state.Heard {
		if n.o.Now().Sub(at) > heardFor {
			delete(n.state.Heard, k)
		}
	}
	n.state.Heard[h.key()] = n.o.Now()
	n.changed = true
	return false
}
