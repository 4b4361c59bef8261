package monitor

import (
	"log/slog"
	"sync"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
)

// Monitor follows the vessels of a config: what their sensors say, what was fed,
// and what is known of their starters.
type Monitor struct {
	Conf    *config.Config
	Store   *store.Store
	Clock   *event.Clock
	Log     *slog.Logger
	Hub     *Hub
	Events  *event.Log // what must reach the journal, the broker and people
	Alarms  *event.Alarms
	Health  *health
	Vessels []*Vessel // in the order of the config
	Fridge  fridge
	Uses    uses
	feeding sync.Mutex // one feed is told at a time, so that the second of two reports sees the first
	changes changes
	ahead   doughForecaster
	usual   starterForecaster

	// HeldAt returns what a mat holds a vessel at, and whether one does; nil
	// without a mat.
	HeldAt func(slug string) (celsius float64, ok bool)
	// changed is told when another starter stands in a vessel; nil for no one.
	Changed func(slug string)
}

// NewMonitor returns a monitor of a config, without a store and without vessels.
func NewMonitor(conf *config.Config, clock *event.Clock, log *slog.Logger) *Monitor {
	m := &Monitor{Conf: conf, Clock: clock, Log: log}
	m.SetHub(&Hub{})
	return m
}

// SetHub has what happens told to another hub. Call it before anything else.
func (m *Monitor) SetHub(h *Hub) {
	m.Hub = h
	m.Alarms = event.NewAlarms(m.Conf.Reader(), h.Event)
	m.Health = newHealth(m.Alarms)
}
