package notify

import (
	"maps"
	"slices"
)

// stepDue tells of a step of the chosen plan, and remembers that it stands.
func (r *rules) stepDue(h Event) {
	r.post(nil, r.planned(h))
}

// planned remembers that a step stands, and returns the notice of it.
func (r *rules) planned(h Event) Notice {
	if r.state.Steps == nil {
		r.state.Steps = map[string]planStep{}
	}
	r.state.Steps[h.Part] = planStep{Vessel: h.Vessel, At: h.For}
	r.changed = true
	return Notice{Kind: PlanStep, Vessel: h.Vessel, Name: h.Name, At: h.For, Until: h.Until, Text: h.Text, Step: h.Part}
}

// stepOver forgets a step, or all of them, so that it is not sent any
// more.
func (r *rules) stepOver(h Event) {
	for _, step := range slices.Collect(maps.Keys(r.state.Steps)) {
		if h.Part == "" || h.Part == step {
			delete(r.state.Steps, step)
			r.changed = true
		}
	}
}

// planObsolete reports whether a message about the plan is no news any more. That
// the plan fails stays news.
func (r *rules) planObsolete(note Notice) bool {
	return note.Step != "" && !r.state.Steps[note.Step].At.Equal(note.At)
}
