package main

import (
	"slices"
	"sync"
	"time"
)

// faults keeps what is wrong at this moment and tells the hub when something
// begins and when it is over, once each.
type faults struct {
	hub *hub

	mu       sync.Mutex // guards standing
	standing map[faultKey]standingFault
}

// standingFault is a fault that is not over.
type standingFault struct {
	Key   faultKey
	Since time.Time
	complaint
}

func newFaults(h *hub) *faults {
	return &faults{hub: h, standing: map[faultKey]standingFault{}}
}

// Set says that a fault stands. Only its beginning is told.
func (f *faults) Set(now time.Time, key faultKey, c complaint) {
	f.mu.Lock()
	_, known := f.standing[key]
	if !known {
		f.standing[key] = standingFault{key, now, c}
	}
	f.mu.Unlock()
	if !known {
		f.hub.Event(event{Kind: happenedFault, Subject: key.Subject, At: now, Text: c.Text, Detail: c.Detail, Fault: key})
	}
}

// Clear says that a fault does not stand. Only its end is told.
func (f *faults) Clear(now time.Time, key faultKey) {
	f.mu.Lock()
	was, known := f.standing[key]
	delete(f.standing, key)
	f.mu.Unlock()
	if known && was.Over == "" {
		was.Over = "Over: " + was.Text
	}
	if known {
		f.hub.Event(event{Kind: happenedCleared, Subject: key.Subject, At: now, Text: was.Over, Detail: was.Detail, Fault: key})
	}
}

// Standing returns what is wrong now, oldest first.
func (f *faults) Standing() []standingFault {
	f.mu.Lock()
	defer f.mu.Unlock()
	all := make([]standingFault, 0, len(f.standing))
	for _, s := range f.standing {
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b standingFault) int { return a.Since.Compare(b.Since) })
	return all
}

// Of returns the kinds that stand for one subject.
func (f *faults) Of(subject string) []standingFault {
	return slices.DeleteFunc(f.Standing(), func(s standingFault) bool { return s.Key.Subject != subject })
}
