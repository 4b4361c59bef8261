package metrics

import (
	"fmt"
	"math"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
)

// Page takes what is so while one page is made.
type Page struct {
	m  *Metrics
	ch chan<- prometheus.Metric
}

// Put shows the value of a series of the table; what is no number is not known,
// and not shown.
func (p Page) Put(name string, value float64, labels ...string) {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	kind := prometheus.GaugeValue
	if p.m.series[name].kind == counter {
		kind = prometheus.CounterValue
	}
	desc := p.m.descs[name]
	if desc == nil {
		desc = prometheus.NewInvalidDesc(fmt.Errorf("metrics: %s is not in the table", name))
	}
	metric, err := prometheus.NewConstMetric(desc, kind, value, labels...)
	if err != nil {
		metric = prometheus.NewInvalidMetric(desc, err)
	}
	p.ch <- metric
}

// At shows an instant, unless it is not known (zero).
func (p Page) At(name string, t time.Time, labels ...string) {
	if !t.IsZero() {
		p.Put(name, float64(t.UnixMilli())/1000, labels...)
	}
}

// Bool shows 1 where something is so, else 0.
func (p Page) Bool(name string, is bool, labels ...string) {
	value := 0.0
	if is {
		value = 1
	}
	p.Put(name, value, labels...)
}

// measure shows a value whose reading is fresh. One that is not is left out, as
// Prometheus expects.
func (p Page) measure(name string, m *monitor.Measure, scale float64, id string) {
	if m != nil && m.Fresh {
		p.Put(name, m.Value*scale, id)
	}
}

// Vessel shows how a vessel is.
func (p Page) Vessel(s monitor.Status) {
	p.Put("leavend_vessel_info", 1, s.ID, s.Name, string(s.Kind))
	p.Bool("leavend_vessel_available", s.Available, s.ID)
	p.measure("leavend_surface_height_meters", s.Height, 1e-3, s.ID)
	p.measure("leavend_rise_meters", s.Rise, 1e-3, s.ID)
	p.measure("leavend_rise_ratio", s.Ratio, 1, s.ID)
	p.measure("leavend_vessel_temperature_celsius", s.Temp, 1, s.ID)
	if f := s.Feed; f != nil {
		p.At("leavend_last_fed_timestamp_seconds", f.At, s.ID)
		if f.DueAt != nil {
			p.At("leavend_feed_due_timestamp_seconds", *f.DueAt, s.ID)
		}
	}
	if f := s.Forecast; f != nil {
		p.At("leavend_peak_forecast_timestamp_seconds", f.At, s.ID)
		p.At("leavend_peak_forecast_low_timestamp_seconds", f.Low, s.ID)
		p.At("leavend_peak_forecast_high_timestamp_seconds", f.High, s.ID)
	}
	if s.Call != nil {
		p.At("leavend_peak_timestamp_seconds", s.Call.At, s.ID)
	}
	for _, stage := range p.m.opts.Stages {
		p.Bool("leavend_stage", stage == string(s.Stage), s.ID, stage)
	}
}

// Mat shows how the mat is, since when it is on or off, and the energy that it
// drew; nil where that is not known.
func (p Page) Mat(s control.State, conf config.Mat, changed time.Time, energyJ *float64) {
	const id = event.SubjectMat
	latched := false
	for _, f := range s.Faults {
		latched = latched || f.Latched
	}
	p.Put("leavend_mat_info", 1, id, "mat", string(conf.Output))
	p.Bool("leavend_mat_on", s.On, id)
	p.Bool("leavend_mat_enabled", s.Mode == control.Hold, id)
	p.Bool("leavend_cutoff_latched", latched, id)
	p.Put("leavend_mat_on_seconds_total", s.OnTotal.Seconds(), id)
	if energyJ != nil {
		p.Put("leavend_mat_energy_joules_total", *energyJ, id)
	}
	p.Put("leavend_mat_switches_total", float64(s.OnSwitches), id)
	p.Put("leavend_setpoint_celsius", s.SetpointC, id)
	p.Put("leavend_cutoff_celsius", conf.CutoffVesselC, id)
	if s.MatOK {
		p.Put("leavend_mat_temperature_celsius", s.MatC, id)
	}
	p.At("leavend_control_timestamp_seconds", s.At, id)
	p.At("leavend_mat_changed_timestamp_seconds", changed, id)
}

// Sensor shows a sensor's last good reading: its value unless the sensor has
// failed since, and its time in any case.
func (p Page) Sensor(id, quantity string, value float64, at time.Time, failed bool) {
	p.At("leavend_reading_timestamp_seconds", at, id, quantity)
	switch {
	case failed:
	case quantity == "distance":
		p.Put("leavend_distance_meters", value/1000, id)
	case quantity == "temperature":
		p.Put("leavend_temperature_celsius", value, id)
	case quantity == "humidity":
		p.Put("leavend_humidity_ratio", value/100, id)
	}
}

// Faults shows which kinds of fault stand.
func (p Page) Faults(standing map[string]bool) {
	unknown := false
	for kind, is := range standing {
		unknown = unknown || is && known(p.m.opts.FaultKinds, kind) == other
	}
	for _, kind := range p.m.opts.FaultKinds {
		p.Bool("leavend_fault_active", standing[kind], kind)
	}
	p.Bool("leavend_fault_active", unknown, other)
}
