package backend

import (
	"context"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// The page knows a day's schedule as steps: from a clock time on, a setpoint,
// until the next step. The config can say more: slots with days, stages, rests
// and gaps. Such a schedule the page shows as far as it can, and leaves alone.

// stepsOf turns slots into steps; fixed tells that the slots say more than
// steps can.
func stepsOf(slots []config.Slot) (steps []web.Step, fixed bool) {
	slots = slices.SortedFunc(slices.Values(slots), func(a, b config.Slot) int { return int(a.From - b.From) })
	steps = []web.Step{}
	for i, slot := range slots {
		if next := slots[(i+1)%len(slots)]; slot.Stage != "" || len(slot.Days) > 0 || slot.Rest || slot.To != next.From {
			fixed = true
		}
		if slot.Stage == "" && len(slot.Days) == 0 && !slot.Rest {
			steps = append(steps, web.Step{From: slot.From.String(), SetpointC: web.Real(slot.SetpointC)})
		}
	}
	return steps, fixed
}

// slotsOf turns steps into slots that fill the day.
func slotsOf(steps []web.Step) ([]config.Slot, error) {
	slots := make([]config.Slot, 0, len(steps))
	for _, step := range steps {
		at, err := time.Parse("15:04", step.From)
		if err != nil {
			return nil, &failure.Refusal{Code: "hours"}
		}
		slots = append(slots, config.Slot{From: config.ClockTime(at.Hour()*60 + at.Minute()), SetpointC: float64(step.SetpointC)})
	}
	slices.SortFunc(slots, func(a, b config.Slot) int { return int(a.From - b.From) })
	if len(slots) == 1 {
		slots[0].From = 0 // alone it holds all day
	}
	for i := range slots {
		slots[i].To = slots[(i+1)%len(slots)].From
	}
	return slots, nil
}

// SetSchedule changes the day's course of warmth; nil is that of the config.
func (p Mats) SetSchedule(ctx context.Context, mat string, steps []web.Step) error {
	if err := p.knownMat(mat); err != nil {
		return err
	}
	if steps == nil {
		return p.heat.SetSchedule(ctx, nil)
	}
	now, _ := p.heat.Schedule()
	if _, fixed := stepsOf(now); fixed {
		return &failure.Refusal{Code: "schedule", Say: text.Say("mat.steps_fixed")}
	}
	slots, err := slotsOf(steps)
	if err != nil {
		return err
	}
	if err := p.heat.Mat.Follow(p.m.Clock.Now(), slots); err != nil {
		return &failure.Refusal{Code: "limits", Say: text.Explain(err)}
	}
	return p.heat.SetSchedule(ctx, slots)
}
