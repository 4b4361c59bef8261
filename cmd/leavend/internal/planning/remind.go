package planning

import (
	"context"
	"slices"
	"time"

	"leavend/peak/plan"
)

// awaited is the vessel whose peak or target a bake waits for, and the step that follows.
type awaited struct {
	vessel  string
	next    Step
	chilled string // the jar that is to be in the fridge now
}

// noteAwaited notes what a bake waits for, for who asks without waiting for the keeper.
// The caller holds mu.
func (k *Keeper) noteAwaited() {
	out := &awaited{chilled: k.chosen.inFridge()}
	if c := k.chosen; c != nil && c.Running != nil && !c.Running.Held {
		if v := k.watched(c); v != nil {
			out.vessel = v.Conf.Slug
			if i := c.next(); i >= 0 {
				out.next = c.Shown.Steps[i]
			}
		}
	}
	k.awaited.Store(out)
}

// inFridge is the jar that the plan counts on in the fridge; "" where it counts on none.
func (c *chosenPlan) inFridge() string {
	switch {
	case c == nil:
	case c.Running != nil && c.Running.Held:
		return c.Ask.ripensIn()
	case c.Ask.Fridge && c.next() >= 0 && c.Shown.Steps[c.next()].Name == plan.OutOfFridge:
		return c.Ask.Vessel
	}
	return ""
}

// Chills reports whether the plan counts on a jar in the fridge.
func (k *Keeper) Chills(slug string) bool {
	got, _ := k.awaited.Load().(*awaited)
	return got != nil && slug != "" && got.chilled == slug
}

// next is the next thing to do; -1 where nothing is left.
func (c *chosenPlan) next() int {
	return slices.IndexFunc(c.Shown.Steps, func(s Step) bool { return s.Kind == "do" && !s.Done })
}

// Awaits reports whether a bake waits for the peak of a jar, or the target of a bowl, and
// which step follows.
func (k *Keeper) Awaits(slug string) (next Step, ok bool) {
	got, _ := k.awaited.Load().(*awaited)
	if got == nil || slug == "" || got.vessel != slug {
		return Step{}, false
	}
	return got.next, true
}

// stepAhead is how long before its best time a step is told.
const stepAhead = 10 * time.Minute

// remind tells of the steps that are due. The step that follows a watched peak or target
// is told with that, in one message.
func (k *Keeper) remind(ctx context.Context, now time.Time) error {
	c := k.chosen.clone()
	told, waits := false, k.waitsForCall(c, now)
	for i := range c.Shown.Steps {
		s := &c.Shown.Steps[i]
		from := s.At
		if !s.OvenOn.IsZero() {
			from = s.OvenOn
		}
		if s.Kind != "do" && s.Name != foldName(1) || s.Done || s.Told || now.Before(from.Add(-stepAhead)) {
			continue
		}
		if i == c.next() && waits != callComes {
			if waits == callPending {
				continue
			}
			s.Told, told = true, true // the message of the call named it
			continue
		}
		s.Told, told = true, true
		if k.Notifier != nil {
			k.Notifier.StepDue(c.Ask.Vessel, c.Name, *s, now)
		}
	}
	if !told {
		return nil
	}
	return k.keep(ctx, c)
}

// How the next step stands to what its wait ends with.
type call uint8

const (
	callComes   call = iota // no message of a peak or target will name it
	callPending             // one may come yet
	callTold                // one came
)

// pendingFor is how long a step waits for the call that names it, beyond its best time:
// a detector that sees nothing must not keep the baker from being told.
const pendingFor = 15 * time.Minute

// withCall is how long after a call its step may be and need no message of its own.
const withCall = 30 * time.Minute

// blindFor is how old the last reading of a vessel may be for a call to be expected.
const blindFor = 10 * time.Minute

// waitsForCall reports how the next step stands to the peak or target that it follows.
func (p *progress) waitsForCall(c *chosenPlan, now time.Time) call {
	i := c.next()
	if c.Running == nil || c.Running.Held || i < 0 {
		return callComes
	}
	v := p.watched(c)
	if v == nil {
		return callComes
	}
	view := p.status(v)
	switch s, call := c.Shown.Steps[i], view.Call; {
	case !c.shows(view):
		return callComes // it holds something else
	case call != nil && call.MadeAt.After(c.ChosenAt) && call.MadeAt.After(c.Running.Began) && s.At.Sub(call.MadeAt) <= withCall:
		return callTold
	case call != nil || !view.SeenWithin(blindFor):
		return callComes
	case now.Before(s.At.Add(pendingFor)) && now.Before(s.Latest.Add(-stepAhead)):
		return callPending
	}
	return callComes
}
