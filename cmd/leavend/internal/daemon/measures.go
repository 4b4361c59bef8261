package daemon

import (
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/version"
	"leavend/control"
)

// measures keeps the metrics: it counts events as they come, and puts in what is so
// when somebody looks. Its fields are set as the daemon opens its parts.
type measures struct {
	*metrics.Metrics
	m        *monitor.Monitor
	heat     *heating.Heater
	sensing  *sensing
	client   *mqtt.Client       // nil without MQTT
	messages *notify.Dispatcher // nil without a recipient
	scores   monitor.Scores     // of forecasts, until their peak has come
}

// count notes events in the metrics; everything else there is fetched when
// somebody looks.
func (s *measures) count(it monitor.Item) {
	if it.Event == nil {
		return
	}
	e := *it.Event
	if e.Kind == event.Forecast {
		s.scores.Add(e)
		return
	}
	s.Event(string(e.Kind))
	switch e.Kind {
	case event.Fed:
		s.scores.Forget(e.Subject)
	case event.Peak:
		if off, ok := s.scores.Off(e); ok {
			s.Forecast(e.Subject, off)
		}
	case event.AlarmRaised:
		s.Fault(string(e.Alarm.Reason), true)
	case event.AlarmCleared:
		s.Fault(string(e.Alarm.Reason), false)
	}
}

// opts names everything that the metrics will ever show.
func (s *measures) opts() metrics.Opts {
	o := metrics.Opts{
		Version: version.Version, Revision: version.Revision(), EventKinds: texts(event.Kinds()),
		ErrorReasons: []string{"failed", "timeout", "hung"},
		FaultKinds:   texts(event.Reasons()),
		Refresh:      s.refresh,
	}
	o.Stages = texts(monitor.Stages())
	for _, k := range control.FaultKinds() {
		o.FaultKinds = append(o.FaultKinds, string(k))
	}
	for _, v := range s.m.Conf.Vessels {
		o.Vessels = append(o.Vessels, metrics.Info{ID: v.Slug, Name: v.Name, Kind: string(v.Kind)})
	}
	if s.heat.Mat != nil {
		o.Mats = []metrics.Info{{ID: event.SubjectMat, Name: "mat", Kind: string(s.m.Conf.Mat.Output)}}
	}
	for _, w := range s.sensing.channels {
		o.Sensors = append(o.Sensors, metrics.Sensor{
			ID: w.Sensor.Name, Vessel: s.m.ServedBy(w.Sensor.Name), Place: string(w.Sensor.Place), Quantity: w.Quantity.String(),
		})
	}
	return o
}

// texts returns words of a closed set as plain strings.
func texts[T ~string](words []T) []string {
	out := make([]string, 0, len(words))
	for _, w := range words {
		out = append(out, string(w))
	}
	return out
}

// refresh puts in what is so now.
func (s *measures) refresh(m *metrics.Metrics) {
	for _, w := range s.sensing.channels {
		if h, ok := s.m.Health.Of(w.Key()); ok && h.Has {
			m.Reading(metrics.Reading{Sensor: w.Sensor.Name, Quantity: w.Quantity.String(), Value: h.Last.Value, At: h.Last.At, Failed: h.Failing > 0})
		}
	}
	for _, v := range s.m.Vessels {
		m.Vessel(metrics.VesselOf(v.Status(s.m.Clock.Now())))
	}
	if s.heat.Mat != nil {
		m.Mat(metrics.MatOf(s.heat.Mat.State(), s.m.Conf, s.heat.Meter.Joules()))
	}
	if s.client != nil {
		c := s.client.Stats()
		m.Publish(metrics.Publish{
			Connected: c.Connected, EventsWaiting: c.EventsWaiting, Connections: c.Connections,
			EventsSent: c.EventsSent, EventsLost: c.EventsLost, StatesSent: c.StatesSent,
			Commands: c.PlugCommands, Refused: c.PlugRefused, Wishes: c.Commands, WishesRefused: c.CommandsRefused, InboundLost: c.InboundLost,
		})
	}
	kept := s.m.Store.Stats()
	m.Store(metrics.Store{Waiting: kept.Buffered, Errors: uint64(kept.Failed), CommittedAt: kept.Commit, Bytes: fileSize(s.m.Store.Path()), FreeBytes: freeBytes(s.m.Store.Path())})
	messageMetrics(m, s.messages.Channels())
	for name, n := range s.m.Hub.Dropped() {
		m.Dropped(name, n)
	}
}

// messageMetrics puts into the metrics how each recipient stands.
func messageMetrics(m *metrics.Metrics, channels []notify.Channel) {
	for _, s := range channels {
		m.Notify(s.Name, metrics.Notify{Waiting: s.Waiting, Sent: s.Sent, Failed: s.Failed})
	}
}
