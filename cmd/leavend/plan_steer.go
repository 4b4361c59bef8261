package main

import (
	"context"
	"fmt"
	"time"

	"leavend/control"
	"leavend/peak/plan"
)

// A plan that keeps the starter on the mat has the mat steered to the hour of
// its top, once the starter is fed. A wish of the baker's own stands before
// it, and the mat's limits and guard before both.

// steer wishes the hour of the top, if the plan has come to it and nobody else
// has wished. The caller holds mu.
func (k *planKeeper) steer(ctx context.Context) error {
	c := k.chosen
	if c == nil || c.Running == nil || !c.Running.Wait.Top || !c.Running.Wait.Warmth.Mat || c.Running.Held || !c.Wish.IsZero() || len(c.Course.Waits) == 0 {
		return nil
	}
	if k.d.steering == nil || k.d.warm.State().Mode != control.Hold {
		return nil
	}
	if standing, _ := k.d.steering.said.now(); !standing.At.IsZero() {
		return nil
	}
	at := c.Course.Waits[0].Until.Truncate(time.Minute)
	if err := k.d.WishReady(ctx, c.Ask.Vessel, at); err != nil {
		k.d.log.Info("the mat is not steered for the plan", "why", err)
		return nil
	}
	next := c.clone()
	next.Wish = at
	k.sayWish(next)
	return k.keep(ctx, next)
}

// unsteer takes the plan's wish back, unless another took its place.
func (k *planKeeper) unsteer(ctx context.Context, c *chosenPlan) {
	if c == nil || c.Wish.IsZero() || k.d.steering == nil {
		return
	}
	if standing, _ := k.d.steering.said.now(); standing.At.Equal(c.Wish) {
		if err := k.d.DropWish(ctx, c.Ask.Vessel); err != nil {
			k.d.log.Warn("the wish of the plan cannot be taken back", "err", err)
		}
	}
	c.Wish = time.Time{}
}

// sayWish says at the top's line that the mat is steered to it.
func (k *planKeeper) sayWish(c *chosenPlan) {
	for i := range c.Shown.Steps {
		if s := &c.Shown.Steps[i]; s.Name == plan.TopName && !c.Wish.IsZero() {
			s.Text = fmt.Sprintf("Top of the starter; the mat is steered to %s.", k.planner().words().clock(c.Wish))
		}
	}
}
