package notify

import (
	"context"
	"fmt"
	"time"
)

// state is what is known again after a restart. Its JSON names are those of
// earlier releases.
type state struct {
	Handled     map[string]time.Time    `json:"heard"` // events dealt with, by key
	Vessels     map[string]*vesselState `json:"vessels"`
	Incidents   map[string]*incident    `json:"troubles"`
	PendingAcks map[string]*pendingAck  `json:"asks"`
	Steps       map[string]planStep     `json:"steps,omitempty"` // of the chosen plan, told and not done, by name
}

// planStep is a step of the chosen plan.
type planStep struct {
	Vessel string    `json:"vessel"`
	At     time.Time `json:"at"`
}

// vesselState is what was sent about a vessel: of its running feed, and of its jar.
type vesselState struct {
	Called    bool                 `json:"topped,omitempty"` // its peak or target was sent
	BakerSeen bool                 `json:"came,omitempty"`   // the baker has been there since
	HeadsUp   map[string]time.Time `json:"heads_up"`         // by recipient: the time told
	Again     map[string]int       `json:"again,omitempty"`  // how often it was sent again, by recipient
	Soon      map[string]bool      `json:"soon"`             // by recipient: told of the target
	FeedDue   time.Time            `json:"feed_due,omitzero"`
	FeedLate  bool                 `json:"feed_late,omitempty"` // the second message was sent

	CleanJar time.Time `json:"clean_jar,omitzero"`
	Discard  time.Time `json:"discard,omitzero"` // the oldest discard that was told of
	Fridge   time.Time `json:"fridge,omitzero"`  // the stay, or the feed, that was asked about
	Told     time.Time `json:"told,omitzero"`    // the last message about the jar
	Waits    []waiting `json:"waits,omitempty"`  // to be told with the next
}

// waiting is a notice that can wait, and what it goes by.
type waiting struct {
	Note  Notice    `json:"note"`
	About time.Time `json:"about"`
}

// incident is an alarm from its begin until it has been over for a while.
type incident struct {
	Subject    string    `json:"subject"`
	Name       string    `json:"name"`
	Kind       Kind      `json:"kind"`
	Text       string    `json:"text"`
	Since      time.Time `json:"since"`
	Changed    time.Time `json:"changed"` // last began or ended
	NotifiedAt time.Time `json:"told"`    // last message about it
	Times      int       `json:"times"`
	Stands     bool      `json:"stands"`
	Passes     bool      `json:"passes,omitempty"` // has no end
	Unsure     bool      `json:"unsure,omitempty"` // stood before a restart
}

// pendingAck is a notice that is repeated until it is acknowledged.
type pendingAck struct {
	Notice  Notice                 `json:"notice"`
	Repeats map[string]repeatState `json:"said"` // by recipient
}

type repeatState struct {
	Times int       `json:"times"`
	Last  time.Time `json:"last"`
}

// handledFor is how long an event is known to have been dealt with.
const handledFor = 72 * time.Hour

// load reads what was known before the restart.
func (r *rules) load(ctx context.Context, memory StateStore) error {
	known, err := memory.State(ctx, stateName, &r.state)
	if err != nil {
		return fmt.Errorf("load: %w", err)
	}
	r.changed = !known
	if r.state.Handled == nil {
		r.state.Handled = map[string]time.Time{}
	}
	if r.state.Vessels == nil {
		r.state.Vessels = map[string]*vesselState{}
	}
	if r.state.Incidents == nil {
		r.state.Incidents = map[string]*incident{}
	}
	if r.state.PendingAcks == nil {
		r.state.PendingAcks = map[string]*pendingAck{}
	}
	for _, t := range r.state.Incidents {
		// The daemon raises it again if it still stands. If it does not within
		// the time that any fault has to stay away, it is over.
		t.Unsure, t.Stands, t.Changed = t.Stands, false, r.now()
	}
	return nil
}

// vessel returns the memory of one vessel.
func (r *rules) vessel(slug string) *vesselState {
	v := r.state.Vessels[slug]
	if v == nil {
		v = &vesselState{}
		r.state.Vessels[slug] = v
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

// alreadyHandled notes an event and reports whether it was noted before.
func (r *rules) alreadyHandled(h Event) bool {
	if _, known := r.state.Handled[h.key()]; known {
		return true
	}
	for k, at := range r.state.Handled {
		if r.now().Sub(at) > handledFor {
			delete(r.state.Handled, k)
		}
	}
	r.state.Handled[h.key()] = r.now()
	r.changed = true
	return false
}
