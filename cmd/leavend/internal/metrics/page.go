package metrics

import (
	"maps"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// writer sends series to the registry.
type writer struct {
	*Metrics
	ch chan<- prometheus.Metric
}

func (w writer) put(name string, value float64, labels ...string) {
	t := prometheus.GaugeValue
	if w.kinds[name] == counter {
		t = prometheus.CounterValue
	}
	metric, err := prometheus.NewConstMetric(w.descs[name], t, value, labels...)
	if err != nil {
		metric = prometheus.NewInvalidMetric(w.descs[name], err)
	}
	w.ch <- metric
}

// maybe sends a value that may be unknown.
func (w writer) maybe(name string, value *float64, labels ...string) {
	if value != nil {
		w.put(name, *value, labels...)
	}
}

// at sends an instant that may be unknown.
func (w writer) at(name string, t time.Time, labels ...string) {
	if !t.IsZero() {
		w.put(name, float64(t.UnixMilli())/1000, labels...)
	}
}

func (w writer) bool(name string, is bool, labels ...string) {
	value := 0.0
	if is {
		value = 1
	}
	w.put(name, value, labels...)
}

func (w writer) vessels() {
	for _, i := range w.opts.Vessels {
		w.put("leavend_vessel_info", 1, i.ID, i.Name, i.Kind)
	}
	for id, v := range w.Metrics.vessels {
		w.bool("leavend_vessel_available", v.Available, id)
		w.maybe("leavend_surface_height_meters", scale(v.HeightMM, 1e-3), id)
		w.maybe("leavend_rise_meters", scale(v.RiseMM, 1e-3), id)
		w.maybe("leavend_rise_ratio", v.RiseRatio, id)
		w.maybe("leavend_vessel_temperature_celsius", v.TemperatureC, id)
		w.at("leavend_last_fed_timestamp_seconds", v.FedAt, id)
		w.at("leavend_peak_forecast_timestamp_seconds", v.ForecastAt, id)
		w.at("leavend_peak_forecast_low_timestamp_seconds", v.ForecastLow, id)
		w.at("leavend_peak_forecast_high_timestamp_seconds", v.ForecastHigh, id)
		w.at("leavend_peak_timestamp_seconds", v.PeakAt, id)
		w.at("leavend_feed_due_timestamp_seconds", v.FeedDueAt, id)
		for _, stage := range w.opts.Stages {
			w.bool("leavend_stage", stage == v.Stage, id, stage)
		}
	}
}

func (w writer) mats() {
	for _, i := range w.opts.Mats {
		w.put("leavend_mat_info", 1, i.ID, i.Name, i.Kind)
	}
	for id, m := range w.Metrics.mats {
		w.bool("leavend_mat_on", m.On, id)
		w.bool("leavend_mat_enabled", m.Enabled, id)
		w.bool("leavend_cutoff_latched", m.Latched, id)
		w.put("leavend_mat_on_seconds_total", m.OnTime.Seconds(), id)
		w.maybe("leavend_mat_energy_joules_total", m.EnergyJ, id)
		w.put("leavend_mat_switches_total", float64(m.Switches), id)
		w.maybe("leavend_setpoint_celsius", m.SetpointC, id)
		w.maybe("leavend_cutoff_celsius", m.CutoffC, id)
		w.maybe("leavend_mat_temperature_celsius", m.MatC, id)
		w.at("leavend_control_timestamp_seconds", m.DecidedAt, id)
		w.at("leavend_mat_changed_timestamp_seconds", m.ChangedAt, id)
	}
}

func (w writer) sensors() {
	for _, s := range w.opts.Sensors {
		w.put("leavend_sensor_info", 1, s.ID, s.Vessel, s.Place, s.Quantity)
	}
	for k, n := range w.count {
		w.put("leavend_readings_total", n, k[0], k[1])
	}
	for k, n := range w.errors {
		w.put("leavend_sensor_errors_total", n, k[0], k[1])
	}
	for k, r := range w.readings {
		id := k[0]
		w.at("leavend_reading_timestamp_seconds", r.At, k[0], k[1])
		switch {
		case r.Failed:
		case r.Quantity == "distance":
			w.put("leavend_distance_meters", r.Value/1000, id)
		case r.Quantity == "temperature":
			w.put("leavend_temperature_celsius", r.Value, id)
		case r.Quantity == "humidity":
			w.put("leavend_humidity_ratio", r.Value/100, id)
		}
	}
}

func (w writer) happenings() {
	for k, n := range w.events {
		w.put("leavend_events_total", n, k)
	}
	for k, n := range w.faults {
		w.put("leavend_faults_total", n, k)
	}
	for k, on := range w.active {
		w.bool("leavend_fault_active", on, k)
	}
	for _, k := range slices.Sorted(maps.Keys(w.dropped)) {
		w.put("leavend_hub_dropped_total", w.dropped[k], k)
	}
}

func (w writer) shell() {
	if p := w.publish; p != nil {
		w.bool("leavend_mqtt_connected", p.Connected)
		w.put("leavend_mqtt_connections_total", float64(p.Connections))
		w.put("leavend_mqtt_events_waiting", float64(p.EventsWaiting))
		w.put("leavend_mqtt_events_sent_total", float64(p.EventsSent))
		w.put("leavend_mqtt_events_lost_total", float64(p.EventsLost))
		w.put("leavend_mqtt_states_sent_total", float64(p.StatesSent))
		w.put("leavend_mqtt_commands_total", float64(p.Commands))
		w.put("leavend_mqtt_commands_refused_total", float64(p.Refused))
		w.put("leavend_mqtt_wishes_total", float64(p.Wishes))
		w.put("leavend_mqtt_wishes_refused_total", float64(p.WishesRefused))
		w.put("leavend_mqtt_inbound_lost_total", float64(p.InboundLost))
	}
	if s := w.store; s != nil {
		w.put("leavend_store_bytes", float64(s.Bytes))
		w.put("leavend_store_free_bytes", float64(s.FreeBytes))
		w.put("leavend_store_rows_waiting", float64(s.Waiting))
		w.put("leavend_store_errors_total", float64(s.Errors))
		w.at("leavend_store_commit_timestamp_seconds", s.CommittedAt)
	}
	for recipient, n := range w.notify {
		w.put("leavend_notifications_waiting", float64(n.Waiting), recipient)
		w.put("leavend_notifications_sent_total", float64(n.Sent), recipient)
		w.put("leavend_notifications_failed_total", float64(n.Failed), recipient)
	}
}

func scale(v *float64, by float64) *float64 {
	if v == nil {
		return nil
	}
	return new(*v * by)
}
