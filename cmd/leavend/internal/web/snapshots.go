package web

import (
	"encoding/json"
	"fmt"
	"time"
)

// snapshots makes what the page sees at a glance.
type snapshots struct {
	watch Watch
	plans Plans
	now   func() time.Time
}

// take asks what is so, leaves no list out, and adds what the page says of it.
func (s snapshots) take() Snapshot {
	k := s.watch.Now()
	if k.At.IsZero() {
		k.At = s.now()
	}
	k.Vessels, k.Mats, k.Notices, k.Asks = orEmpty(k.Vessels), orEmpty(k.Mats), orEmpty(k.Notices), orEmpty(k.Asks)
	for i := range k.Mats {
		k.Mats[i].Energy = orEmpty(k.Mats[i].Energy)
		k.Mats[i].Steps, k.Mats[i].Faults = orEmpty(k.Mats[i].Steps), orEmpty(k.Mats[i].Faults)
	}
	for i, v := range k.Vessels {
		k.Vessels[i].Says = v.says(k.At)
	}
	if chosen, _ := s.plans.ChosenPlan(); chosen != nil {
		k.Next = nextStep(chosen.Plan)
	}
	return k
}

// next is the next thing to do.
func nextStep(p Plan) *PlanStep {
	for _, step := range p.Steps {
		if step.Kind == "do" && !step.Done {
			return &step
		}
	}
	return nil
}

// encoded is a snapshot as JSON.
func (s snapshots) encoded() ([]byte, error) { return encode(s.take()) }

func encode(k Snapshot) ([]byte, error) {
	b, err := json.Marshal(k)
	if err != nil {
		return nil, fmt.Errorf("web: encode the snapshot: %w", err)
	}
	return b, nil
}
