package control

import (
	"fmt"
	"slices"
	"time"
)

// Stage is where the vessel is in its day. The shell says it; the schedule
// may ask for different warmth in each.
type Stage string

// The stages.
const (
	Rising   Stage = "rising"    // from the feed to the top or the target
	AtTop    Stage = "at-top"    // a jar at its top
	AtTarget Stage = "at-target" // a bowl at its target rise
	Falling  Stage = "falling"   // after the top
)

// Slot asks for a setpoint between two times of day, in one stage or in all.
type Slot struct {
	Stage     Stage          // empty: every stage
	Days      []time.Weekday // on which From falls; empty: every day
	From, To  time.Duration  // since midnight, local; To before From runs over midnight; equal: all day
	SetpointC float64        // 0: let the vessel cool
}

// Schedule is tried slot by slot; the first that matches holds.
type Schedule []Slot

// At returns the setpoint for a stage at the time of day of at. Ok is false
// when no slot matches and the mat's own setpoint holds. It is the one place
// in this package where the wall clock is read: a clock that steps can choose
// another slot, never more heat than the guard allows.
func (s Schedule) At(at time.Time, stage Stage) (setpointC float64, ok bool) {
	h, m, sec := at.Clock()
	day := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(sec)*time.Second
	for _, slot := range s {
		if (slot.Stage == "" || slot.Stage == stage) && slot.covers(day, at.Weekday()) {
			return slot.SetpointC, true
		}
	}
	return 0, false
}

// covers reports whether a time of day on a day of the week lies in the slot.
// What runs over midnight belongs to the day it began on.
func (s Slot) covers(day time.Duration, on time.Weekday) bool {
	early := s.From > s.To && day < s.To
	if early {
		on = (on + 6) % 7
	}
	if len(s.Days) > 0 && !slices.Contains(s.Days, on) {
		return false
	}
	return early || s.From == s.To || day >= s.From && (s.From > s.To || day < s.To)
}

// check returns an error that names the first slot that is out of range.
func (s Schedule) check(o Opts) error {
	const day = 24 * time.Hour
	for i, slot := range s {
		if slot.From < 0 || slot.From >= day || slot.To < 0 || slot.To >= day {
			return fmt.Errorf("mat.schedule[%d]: times lie between 00:00 and 23:59", i)
		}
		switch slot.Stage {
		case "", Rising, AtTop, AtTarget, Falling:
		default:
			return fmt.Errorf("mat.schedule[%d]: stage %q is not rising, at-top, at-target or falling", i, slot.Stage)
		}
		if slot.SetpointC == 0 {
			continue
		}
		if err := o.checkSetpoint(slot.SetpointC); err != nil {
			return fmt.Errorf("mat.schedule[%d]: %w", i, err)
		}
	}
	return nil
}
