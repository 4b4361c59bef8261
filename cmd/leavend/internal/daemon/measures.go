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
		s.Fault(string(e.Alarm.Reason))
	}
}

// opts names everything that the metrics will ever show.
func (s *measures) opts() metrics.Opts {
	o := metrics.Opts{
		Version: version.Version, Revision: version.Revision(), EventKinds: texts(event.Kinds()),
		ErrorReasons: []string{"failed", "timeout", "hung"},
		FaultKinds:   append(texts(event.Reasons()), texts(control.FaultKinds())...),
		Stages:       texts(monitor.Stages()),
		Collect:      s.collect,
	}
	for _, v := range s.m.Conf.Vessels {
		o.Vessels = append(o.Vessels, v.Slug)
	}
	for _, w := range s.sensing.channels {
		o.Sensors = append(o.Sensors, metrics.Sensor{
			ID: w.Sensor.Name, Vessel: s.m.Conf.ServedBy(w.Sensor.Name), Place: string(w.Sensor.Place), Quantity: w.Quantity.String(),
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

// collect puts in what is so now.
func (s *measures) collect(p metrics.Page) {
	for _, w := range s.sensing.channels {
		if h, ok := s.m.Health.Of(w.Key()); ok && h.Has {
			p.Sensor(w.Sensor.Name, w.Quantity.String(), h.Last.Value, h.Last.At, h.Failing > 0)
		}
	}
	for _, v := range s.m.Vessels {
		p.Vessel(v.Status(s.m.Clock.Now()))
	}
	if s.heat.Mat != nil {
		p.Mat(s.heat.Mat.State(), s.m.Conf.Mat, s.heat.Switched.Since(), s.heat.Meter.Joules())
	}
	standing := map[string]bool{}
	for _, a := range s.m.Alarms.Active() {
		standing[string(a.Key.Reason)] = true
	}
	p.Faults(standing)
	s.collectMQTT(p)
	kept := s.m.Store.Stats()
	size, free := historySize(s.m.Store.Path())
	p.Put("leavend_store_bytes", float64(size))
	p.Put("leavend_store_free_bytes", float64(free))
	p.Put("leavend_store_rows_waiting", float64(kept.Buffered))
	p.Put("leavend_store_errors_total", float64(kept.Failed))
	p.Put("leavend_store_bad_rows_total", float64(kept.BadRows))
	p.Put("leavend_store_unstorable_total", float64(kept.Unstorable))
	p.At("leavend_store_commit_timestamp_seconds", kept.Commit)
	for _, c := range s.messages.Channels() {
		p.Put("leavend_notifications_waiting", float64(c.Waiting), c.Name)
		p.Put("leavend_notifications_sent_total", float64(c.Sent), c.Name)
		p.Put("leavend_notifications_failed_total", float64(c.Failed), c.Name)
	}
	for name, n := range s.m.Hub.Dropped() {
		p.Put("leavend_hub_dropped_total", float64(n), name)
	}
}

// collectMQTT puts in how the MQTT client stands.
func (s *measures) collectMQTT(p metrics.Page) {
	if s.client == nil {
		return
	}
	c := s.client.Stats()
	p.Bool("leavend_mqtt_connected", c.Connected)
	p.Put("leavend_mqtt_events_waiting", float64(c.EventsWaiting))
	for name, n := range map[string]uint64{
		"leavend_mqtt_connections_total":      c.Connections,
		"leavend_mqtt_events_sent_total":      c.EventsSent,
		"leavend_mqtt_events_lost_total":      c.EventsLost,
		"leavend_mqtt_states_sent_total":      c.StatesSent,
		"leavend_mqtt_commands_total":         c.PlugCommands,
		"leavend_mqtt_commands_refused_total": c.PlugRefused,
		"leavend_mqtt_requests_total":         c.Commands,
		"leavend_mqtt_requests_refused_total": c.CommandsRefused,
		"leavend_mqtt_inbound_lost_total":     c.InboundLost,
	} {
		p.Put(name, float64(n))
	}
}
