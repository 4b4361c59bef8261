package sim

import (
	"sort"
	"time"
)

// script is a list of things to happen, each at its time after the start. One
// with a cycle begins again after it, for ever.
type script[T any] struct {
	items []T
	at    func(T) time.Duration
	cycle time.Duration
	round time.Duration // what the present round adds to each time
	pos   int
}

func newScript[T any](items []T, at func(T) time.Duration, cycle time.Duration) script[T] {
	items = append([]T(nil), items...)
	sort.SliceStable(items, func(i, j int) bool { return at(items[i]) < at(items[j]) })
	return script[T]{items: items, at: at, cycle: cycle}
}

// next returns the next item that is due at now, with its time, and moves on.
func (s *script[T]) next(now time.Duration) (item T, at time.Duration, ok bool) {
	if s.pos == len(s.items) {
		if s.cycle <= 0 || len(s.items) == 0 {
			return item, 0, false
		}
		s.pos, s.round = 0, s.round+s.cycle
	}
	at = s.round + s.at(s.items[s.pos])
	if at > now {
		return item, 0, false
	}
	s.pos++
	return s.items[s.pos-1], at, true
}

// done reports whether nothing is to come.
func (s *script[T]) done() bool { return s.pos == len(s.items) && s.cycle <= 0 }
