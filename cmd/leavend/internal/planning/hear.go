package planning

import (
	"context"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
)

// Hear takes a feed for the feed of the plan, and a mixed bowl for its mixing, if
// the time is near.
func (k *Keeper) Hear(it monitor.Item) {
	if it.Event == nil || it.Event.Past {
		return
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if it.Event.Kind == event.Folded {
		k.folded(it.Event.At)
		return
	}
	if it.Event.Kind != event.Fed {
		return
	}
	c := k.chosen
	i := k.stepFed(c, it.Event.Subject)
	if i < 0 {
		return
	}
	at := it.Event.Detected.FeedAt
	if at.IsZero() {
		at = it.Event.At
	}
	if s := c.Shown.Steps[i]; at.Before(s.Earliest.Add(-time.Hour)) {
		return // one of every day, and not the plan's
	} else if err := k.done(context.Background(), s.Name, at); err != nil {
		k.m.Log.Error("a step of the plan could not be noted", "step", s.Name, "err", err)
	}
}

// folded notes that a fold of the plan is done. The caller holds mu.
func (k *Keeper) folded(at time.Time) {
	if k.chosen == nil {
		return
	}
	c := k.chosen.clone()
	i := slices.IndexFunc(c.Shown.Steps, func(s Step) bool {
		return s.Kind == "fold" && !s.Done && s.At.Sub(at).Abs() <= 4*foldSlack
	})
	if i < 0 {
		return
	}
	c.Shown.Steps[i].Done, c.Shown.Steps[i].At = true, at
	k.over(c.Shown.Steps[i].Name)
	if err := k.keep(context.Background(), c); err != nil {
		k.m.Log.Error("a fold of the plan could not be noted", "err", err)
	}
}
