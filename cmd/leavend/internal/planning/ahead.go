package planning

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// The first step of a bake is told the evening before: between three hours and half an
// hour before the baker goes to bed.
const (
	eveningFrom  = 3 * time.Hour
	eveningUntil = 30 * time.Minute
	usualBedtime = 22*60 + 30 // of who names no hours of sleep
)

// freshFor is for how long the baker remembers what he chose.
const freshFor = 6 * time.Hour

// tellAhead tells the evening before of the step that a bake begins with, or goes on with
// after its starter's stay in the fridge. All other steps follow one that the baker was at.
func (k *Keeper) tellAhead(ctx context.Context, now time.Time) error {
	i := k.chosen.next()
	if i < 0 || k.Notifier == nil || k.chosen.Running != nil && !k.chosen.Running.Held || now.Sub(k.chosen.ChosenAt) < freshFor {
		return nil
	}
	s := k.chosen.Shown.Steps[i]
	bed := bedtime(k.m.Effective(), now)
	if s.Told || k.chosen.Ahead == s.Name || now.Before(bed.Add(-eveningFrom)) || now.After(bed.Add(-eveningUntil)) || s.At.Before(bed) || s.At.After(bed.AddDate(0, 0, 1)) {
		return nil
	}
	c := k.chosen.clone()
	c.Ahead = s.Name
	k.Notifier.StepAhead(c.Ask.Vessel, c.Name, s, now)
	return k.keep(ctx, c)
}

// bedtime is when the baker next goes to bed.
func bedtime(c *config.Config, now time.Time) time.Time {
	p, zone := c.Plan, c.Timezone
	minute := int(p.AsleepFrom)
	if p.AsleepFrom == p.AsleepTo {
		minute = usualBedtime
	}
	now = now.In(zone)
	bed := time.Date(now.Year(), now.Month(), now.Day(), minute/60, minute%60, 0, 0, zone)
	if !bed.After(now) {
		bed = bed.AddDate(0, 0, 1)
	}
	return bed
}
