// Package metrics shows the daemon's numbers to a Prometheus server.
//
// It knows plain values only: the wiring puts in what the sensors, the
// thermostat and the curve say, and the page shows the latest. A value that is
// not known has no line on the page; it is never zero and never the last one.
// Instants are shown as Unix timestamps, so that a reader can work out an age
// by its own clock. METRICS.md beside this file lists every series; a test
// writes it from the same table that the page is made from.
package metrics

import (
	"net/http"
	"runtime"
	"slices"
	"sync"
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
	Vessels      []Info
	Mats         []Info
	Sensors      []Sensor

	// Refresh, if set, is called before each page is made, to put in values
	// that are only worth fetching when somebody looks.
	Refresh func(*Metrics)
}

// Info is what does not change about a vessel or a mat.
type Info struct {
	ID   string
	Name string // as the baker calls it
	Kind string // jar or bowl; of a mat, the output that switches it
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

// Metrics holds the latest values and makes the page. Its methods may be
// called from any goroutine and never wait for a reader.
type Metrics struct {
	opts     Opts
	registry *prometheus.Registry
	descs    map[string]*prometheus.Desc
	kinds    map[string]kind
	forecast *prometheus.HistogramVec

	mu       sync.Mutex // guards all below
	vessels  map[string]Vessel
	mats     map[string]Mat
	readings map[[2]string]Reading // by sensor and quantity
	count    map[[2]string]float64 // readings by sensor and quantity
	errors   map[[2]string]float64
	events   map[string]float64
	faults   map[string]float64
	active   map[string]bool
	publish  *Publish
	store    *Store
	notify   map[string]Notify
	dropped  map[string]float64
}

// New returns an empty page with a registry of its own.
func New(o Opts) *Metrics {
	m := &Metrics{
		opts: o, registry: prometheus.NewRegistry(),
		descs: make(map[string]*prometheus.Desc), kinds: make(map[string]kind),
		vessels: make(map[string]Vessel), mats: make(map[string]Mat), readings: make(map[[2]string]Reading),
		count: make(map[[2]string]float64), errors: make(map[[2]string]float64), events: zeros(o.EventKinds),
		faults: zeros(o.FaultKinds), active: make(map[string]bool), notify: make(map[string]Notify),
		dropped: make(map[string]float64),
	}
	for _, k := range append(slices.Clone(o.FaultKinds), other) {
		m.active[k] = false
	}
	for _, s := range o.Sensors {
		m.count[[2]string{s.ID, s.Quantity}] = 0
		for reason := range zeros(o.ErrorReasons) {
			m.errors[[2]string{s.ID, reason}] = 0
		}
	}
	for _, s := range table() {
		m.kinds[s.name] = s.kind
		if s.kind != histogram {
			m.descs[s.name] = prometheus.NewDesc(s.name, s.help, s.labels, nil)
		}
	}
	m.forecast = forecastErrors()
	for _, v := range o.Vessels {
		m.forecast.WithLabelValues(v.ID)
	}
	m.registry.MustRegister(m, m.forecast, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// forecastErrors is the one histogram: how far off forecasts are is a
// distribution, and its tail is what a baker feels.
func forecastErrors() *prometheus.HistogramVec {
	s := forecastSeries()
	return prometheus.NewHistogramVec(prometheus.HistogramOpts{
		Name: s.name, Help: s.help,
		Buckets:                     []float64{300, 600, 1200, 1800, 3600, 7200},
		NativeHistogramBucketFactor: 1.1, NativeHistogramMaxBucketNumber: 40,
	}, s.labels)
}

// zeros returns a count of 0 for each kind and for those that are not listed.
func zeros(kinds []string) map[string]float64 {
	z := map[string]float64{other: 0}
	for _, k := range kinds {
		z[k] = 0
	}
	return z
}

// Handler serves the page. A page that takes longer than five seconds is given
// up, and a fifth reader at once is sent away, so that no crowd of readers can
// slow the daemon.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{
		Registry: m.registry, EnableOpenMetrics: true, MaxRequestsInFlight: 4, Timeout: 5 * time.Second,
	})
}

// Gatherer gives the series to a reader in this process.
func (m *Metrics) Gatherer() prometheus.Gatherer { return m.registry }

// Describe names every series to the registry.
func (m *Metrics) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range m.descs {
		ch <- d
	}
}

// Collect makes the page.
func (m *Metrics) Collect(ch chan<- prometheus.Metric) {
	if m.opts.Refresh != nil {
		m.opts.Refresh(m)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	w := writer{m, ch}
	w.put("leavend_build_info", 1, m.opts.Version, m.opts.Revision, runtime.Version())
	w.vessels()
	w.mats()
	w.sensors()
	w.happenings()
	w.shell()
}
