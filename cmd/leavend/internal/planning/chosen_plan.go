package planning

import (
	"slices"
	"time"

	"leavend/peak/dough"
	"leavend/peak/plan"

	"leavend/cmd/leavend/internal/text"
)

// planOffer is a plan that was shown and may be chosen.
type planOffer struct {
	id     string
	ask    Ask
	name   string
	shown  Plan
	course plan.Plan
}

// mostOffers bounds what is remembered of what was shown.
const mostOffers = 30

// chosenPlan is what the store keeps.
type chosenPlan struct {
	Ask      Ask          `json:"ask"`
	Name     string       `json:"name"`
	Shown    Plan         `json:"shown"`
	Course   plan.Plan    `json:"course"`            // of what is left
	Running  *runningWait `json:"running,omitempty"` // since the last step that is done
	ChosenAt time.Time    `json:"chosen_at"`
	Moved    time.Time    `json:"moved,omitzero"`
	Sequence int          `json:"sequence"`
	Trouble  text.Message `json:"trouble,omitzero"`
	Ahead    string       `json:"ahead,omitempty"` // the step that was told the evening before
	Wish     time.Time    `json:"wish,omitzero"`   // the mat is steered to this hour of the top, for this plan
}

// runningWait is what goes on by itself now.
type runningWait struct {
	Wait  plan.Wait  `json:"wait"`
	Began time.Time  `json:"began"`
	Ratio plan.Ratio `json:"ratio"`
	Held  bool       `json:"held,omitempty"` // the ripe starter is in the fridge
	Cold  bool       `json:"cold,omitempty"` // of a bulk: it is ended for a proof in the fridge
}

// next is what a bulk is ended for; nil where it is none.
func (r *runningWait) next() *plan.Next {
	switch {
	case r.Wait.Rise == 0:
		return nil
	case r.Cold:
		return new(dough.ColdProof)
	}
	return new(dough.RoomProof)
}

// refreshesLeft is how many feeds that wake a starter up are still to give.
func (c *chosenPlan) refreshesLeft() (n int) {
	for _, s := range c.Shown.Steps {
		if s.Kind == "do" && s.Name == plan.RefreshFeed && !s.Done {
			n++
		}
	}
	return n
}

// steady reports whether nothing that is seen can move what comes next.
func (r *runningWait) steady() bool { return r.Wait.Fridge || r.Wait.Cool || r.Held }

func (c *chosenPlan) clone() *chosenPlan {
	out := *c
	out.Shown.Steps = slices.Clone(c.Shown.Steps)
	if c.Running != nil {
		r := *c.Running
		out.Running = &r
	}
	return &out
}

// keptAfter is how long a plan is kept after its loaf.
const keptAfter = 3 * time.Hour

// over reports whether nothing is left of a plan. Where the next waits, as with a
// loaf of every week, it is let go of as soon as the loaf is there.
func (c *chosenPlan) over(now time.Time, next bool) bool {
	left := slices.ContainsFunc(c.Shown.Steps, func(s Step) bool { return s.Kind == "do" && !s.Done })
	if next && !left && now.After(c.Shown.Loaf) {
		return true
	}
	return now.After(c.Shown.Loaf.Add(keptAfter)) && now.After(c.Ask.Ready.Add(keptAfter))
}
