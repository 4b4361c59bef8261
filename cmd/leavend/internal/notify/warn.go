package notify

import (
	"math"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/monitor"
)

// warn tells of what rises near the rim, and asks about a jar that is not where it is
// meant to be. Each is told once: by the feed, or by the stay in the fridge.
func (t *Dispatcher) warn(s monitor.Status, distanceMM float64) {
	if s.Feed == nil {
		return
	}
	h := Event{Vessel: s.ID, Name: s.Name, Bowl: s.Kind == config.Bowl, At: s.At, For: s.Feed.At}
	if s.Rim != nil {
		near := h
		near.Kind, near.LeftMM, near.Late, near.Until = RimNear, s.Rim.LeftMM, s.Rim.Over, s.Rim.By
		t.Notify(near)
	}
	w := t.where[s.ID]
	if w == nil {
		w = &monitor.Whereabouts{}
		t.where[s.ID] = w
	}
	chilled := s.FridgeSince != nil || t.with.Chills(s.ID)
	since, wrong := w.Look(s, distanceMM, t.m.Vessel(s.ID).Conf.FloorMM, chilled, s.At)
	if !wrong {
		return
	}
	if h.Kind, h.Chilled, h.Until, h.TempC = FridgeAsked, chilled, since, math.NaN(); s.Temp != nil {
		h.TempC = s.Temp.Value
	}
	if s.FridgeSince != nil {
		h.For = *s.FridgeSince
	}
	t.Notify(h)
}
