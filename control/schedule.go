package control

import (
	"fmt"
	"time"
)

// Stage is where the vessel is in its day. The shell says it; the schedule
// may ask for different warmth in each.
type Stage string

// The stages.
const (
	StageRising  Stage = "rising"  // a jar on its way to the top
	StageDough   Stage = "dough"   // a bowl on its way to its target
	StageReached Stage = "reached" // top or target reached: let it cool
)

// Slot asks for a setpoint between two times of day, in one stage or in all.
type Slot struct {
	Stage     Stage         // empty: every stage
	From, To  time.Duration // since midnight, local; To before From runs over midnight; equal: all day
	SetpointC float64       // 0: let the vessel cool
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
		if (slot.Stage == "" || slot.Stage == stage) && slot.covers(day) {
			return slot.SetpointC, true
		}
	}
	return 0, false
}

// covers reports whether a time of day lies in the slot.
func (s Slot) covers(day time.Duration) bool {
	switch {
	case s.From == s.To:
		return true
	case s.From < s.To:
		return day >= s.From && day < s.To
	}
	return day >= s.From || day < s.To
}

// check returns an error that names the first slot that is out of range.
func (s Schedule) check(o Opts) error {
	const day = 24 * time.Hour
	for i, slot := range s {
		if slot.From < 0 || slot.From >= day || slot.To < 0 || slot.To >= day {
			return fmt.Errorf("mat.schedule[%d]: times lie between 00:00 and 23:59", i)
		}
		switch slot.Stage {
		case "", StageRising, StageDough, StageReached:
		default:
			return fmt.Errorf("mat.schedule[%d]: stage %q is not rising, dough or reached", i, slot.Stage)
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
