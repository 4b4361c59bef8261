package notify

import (
	"maps"
	"slices"
)

// stepDue tells of a step of the chosen plan, and remembers that it stands.
func (n *Notifier) stepDue(h Event) {
	if n.state.Steps == nil {
		n.state.Steps = map[string]planStep{}
	}
	n.state.Steps[h.Part] = planStep{Vessel: h.Vessel, At: h.For}
	n.changed = true
	n.post(nil, Notice{Kind: PlanStep, Vessel: h.Vessel, Name: h.Name, At: h.For, Until: h.Until, Text: h.Text, Step: h.Part})
}

// stepOver forgets a step, or all of them, so that nobody is told of it any
// more.
func (n *Notifier) stepOver(h Event) {
	for _, step := range slices.Collect(maps.Keys(n.state.Steps)) {
		if h.Part == "" || h.Part == step {
			delete(n.state.Steps, step)
			n.changed = true
		}
	}
}

// planMoot reports whether a message about the plan is no news any more. That
// the plan fails stays news.
func (n *Notifier) planMoot(note Notice) bool {
	return note.Step != "" && !n.state.Steps[note.Step].At.Equal(note.At)
}
