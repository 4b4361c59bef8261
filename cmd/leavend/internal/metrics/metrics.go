// Package metrics shows the daemon's numbers to a Prometheus server.
//
// It counts what happens, and each page is made of what is so when somebody
// looks: the wiring puts in statuses and plain numbers. A value that is not
// known has no line on the page; it is never zero and never the last one.
// Instants are shown as Unix timestamps, so that a reader can work out an age
// by its own clock. METRICS.md beside this file lists every series; a test
// writes it from the same table that the page is made from.
package metrics

import (
	"math"
	"net/http"
	"runtime"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Opts say what the page must show from its first day, at zero, so that a rate
// or an alert has something to count from.
type Opts struct {
	Version      string
	Revision     string
	Stages       []string // every stage a vessel can be in
	EventKinds   []string // every kind of event
	FaultKinds   []string // every kind of fault
	ErrorReasons []string // every way in which a sensor can fail
	Vessels      []string // their ids
	Sensors      []Sensor

	Collect func(Page) // puts in what is so, for each page; nil for nothing
}

// Sensor is what does not change about a sensor.
type Sensor struct {
	ID       string
	Vessel   string // the vessel it serves; may be empty
	Place    string // vessel, mat or room
	Quantity string // distance, temperature or humidity
}

// other stands for a kind or reason that Opts does not name. It keeps the page
// from growing without bound.
const other = "other"

// Metrics counts what happens and makes the page. Its methods may be called from
// any goroutine and never wait for a reader.
type Metrics struct {
	opts     Opts
	registry *prometheus.Registry
	series   map[string]series
	descs    map[string]*prometheus.Desc // of what each page is asked for

	readings, errors, events, faults *prometheus.CounterVec
	forecast                         *prometheus.HistogramVec
}

// New returns an empty page with a registry of its own.
func New(o Opts) *Metrics {
	m := &Metrics{opts: o, registry: prometheus.NewRegistry(), series: map[string]series{}, descs: map[string]*prometheus.Desc{}}
	for _, s := range table() {
		m.series[s.name] = s
		m.descs[s.name] = prometheus.NewDesc(s.name, s.help, s.labels, nil)
	}
	m.readings, m.errors = m.counter("leavend_readings_total"), m.counter("leavend_sensor_errors_total")
	m.events, m.faults = m.counter("leavend_events_total"), m.counter("leavend_faults_total")
	m.forecast = m.forecastErrors()
	for _, s := range o.Sensors {
		m.readings.WithLabelValues(s.ID, s.Quantity)
		for _, reason := range append(slices.Clone(o.ErrorReasons), other) {
			m.errors.WithLabelValues(s.ID, reason)
		}
	}
	for _, kind := range append(slices.Clone(o.EventKinds), other) {
		m.events.WithLabelValues(kind)
	}
	for _, kind := range append(slices.Clone(o.FaultKinds), other) {
		m.faults.WithLabelValues(kind)
	}
	for _, id := range o.Vessels {
		m.forecast.WithLabelValues(id)
	}
	m.registry.MustRegister(m, m.readings, m.errors, m.events, m.faults, m.forecast, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// counter makes a counter of the table, which counts as things happen.
func (m *Metrics) counter(name string) *prometheus.CounterVec {
	delete(m.descs, name)
	return prometheus.NewCounterVec(prometheus.CounterOpts{Name: name, Help: m.series[name].help}, m.series[name].labels)
}

// forecastErrors is the one histogram: how far off forecasts are is a
// distribution, and its tail is what a baker feels.
func (m *Metrics) forecastErrors() *prometheus.HistogramVec {
	s := m.series["leavend_forecast_error_seconds"]
	delete(m.descs, s.name)
	return prometheus.NewHistogramVec(prometheus.HistogramOpts{
		Name: s.name, Help: s.help,
		Buckets:                     []float64{300, 600, 1200, 1800, 3600, 7200},
		NativeHistogramBucketFactor: 1.1, NativeHistogramMaxBucketNumber: 40,
	}, s.labels)
}

// Reading counts a good reading.
func (m *Metrics) Reading(sensor, quantity string) {
	m.readings.WithLabelValues(sensor, quantity).Inc()
}

// SensorError counts a failed reading.
func (m *Metrics) SensorError(sensor, reason string) {
	m.errors.WithLabelValues(sensor, known(m.opts.ErrorReasons, reason)).Inc()
}

// Event counts an event.
func (m *Metrics) Event(kind string) {
	m.events.WithLabelValues(known(m.opts.EventKinds, kind)).Inc()
}

// Fault counts a fault that has begun.
func (m *Metrics) Fault(kind string) {
	m.faults.WithLabelValues(known(m.opts.FaultKinds, kind)).Inc()
}

// Forecast notes how far a forecast was from the peak that came.
func (m *Metrics) Forecast(vessel string, off time.Duration) {
	m.forecast.WithLabelValues(vessel).Observe(math.Abs(off.Seconds()))
}

func known(kinds []string, kind string) string {
	if slices.Contains(kinds, kind) {
		return kind
	}
	return other
}

// Handler serves the page. A page that takes longer than five seconds is given
// up, and a fifth reader at once is sent away, so that no crowd of readers can
// slow the daemon.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{
		Registry: m.registry, EnableOpenMetrics: true, MaxRequestsInFlight: 4, Timeout: 5 * time.Second,
	})
}

// Describe names every series that Collect may send to the registry.
func (m *Metrics) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range m.descs {
		ch <- d
	}
}

// Collect makes the page.
func (m *Metrics) Collect(ch chan<- prometheus.Metric) {
	p := Page{m, ch}
	p.Put("leavend_build_info", 1, m.opts.Version, m.opts.Revision, runtime.Version())
	for _, s := range m.opts.Sensors {
		p.Put("leavend_sensor_info", 1, s.ID, s.Vessel, s.Place, s.Quantity)
	}
	if m.opts.Collect != nil {
		m.opts.Collect(p)
	}
}
