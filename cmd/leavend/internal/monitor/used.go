package monitor

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
)

// Use says what the baker did with what stood ready.
type Use string

// What is done with a starter at its peak, and with dough that has risen.
const (
	StarterUsed  Use = "used"
	DoughShaped  Use = "shaped"
	DoughChilled Use = "chilled"
)

// UseIn reports whether a use is one of a kind of vessel.
func UseIn(kind config.VesselKind, how Use) bool {
	if kind == config.Bowl {
		return how == DoughShaped || how == DoughChilled
	}
	return how == StarterUsed
}

// Used is what the baker did with the running feed, and when.
type Used struct {
	At    time.Time `json:"at"`
	How   Use       `json:"how"`
	Rise  float64   `json:"rise,omitempty"`   // of dough: by which share of its volume it had risen; 0: not known
	TempC float64   `json:"temp_c,omitempty"` // and how warm it was
}

// UseNow notes that what stands in a vessel is used at a moment. Of dough it keeps how far
// it had risen: there its bulk ends.
func (m *Monitor) UseNow(ctx context.Context, s Status, how Use, at time.Time) (Used, error) {
	used := Used{At: at, How: how}
	if s.Kind == config.Bowl && s.Ratio != nil {
		used.Rise = max(s.Ratio.Value-1, 0)
	}
	if s.Kind == config.Bowl && s.Temp != nil {
		used.TempC = s.Temp.Value
	}
	return used, m.Uses.Set(ctx, m.Store, s.ID, used)
}

// uses knows which feeds were used. One that is older than the last feed no
// longer counts, so that a feed needs to clear nothing.
type uses struct{ last kept[Used] }

// usedSetting is the name under which the store keeps it.
func usedSetting(slug string) string { return "used/" + slug }

// Of returns how and when the running feed was used; false while it was not.
func (u *uses) Of(slug string, fedAt time.Time) (Used, bool) {
	one := u.last.of(usedSetting(slug))
	return one, one.At.After(fedAt)
}

// Has reports whether the running feed was used.
func (u *uses) Has(slug string, fedAt time.Time) bool {
	_, used := u.Of(slug, fedAt)
	return used
}

// Set notes a use, or takes it back (zero). It is on the disk before it counts.
func (u *uses) Set(ctx context.Context, s *store.Store, slug string, one Used) error {
	return u.last.set(ctx, s.States.SetSetting, usedSetting(slug), one)
}

// addUse says what was done with it. A bowl whose dough was shaped or chilled
// stands empty until the next dough, whatever the sensor sees meanwhile. Of a
// jar the curve goes on, but it is no longer at its best: most of it is gone.
func (m *Monitor) addUse(s *Status, v *Vessel) {
	one, ok := m.Uses.Of(v.Conf.Slug, v.Curve().FedAt)
	if !ok {
		return
	}
	s.Used, s.BestUntil = &one, nil
	if s.Kind != config.Bowl {
		return
	}
	s.Forecast, s.Call, s.Why = nil, nil, text.Message{}
	if s.Alarm == nil || s.Alarm.Key.Reason == event.UnclearCurve {
		s.Stage, s.Alarm = Waiting, nil
	}
}
