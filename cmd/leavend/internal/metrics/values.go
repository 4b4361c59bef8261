package metrics

import (
	"math"
	"slices"
	"time"
)

// Vessel is the latest about one jar or bowl. A nil pointer and a zero time
// are values that are not known.
type Vessel struct {
	ID           string
	Available    bool   // its sensors answer
	Stage        string // one of Opts.Stages
	HeightMM     *float64
	RiseMM       *float64
	RiseRatio    *float64
	TemperatureC *float64
	FedAt        time.Time
	FeedDueAt    time.Time // when the baker means to feed next
	ForecastAt   time.Time // the expected top, while it is to come
	ForecastLow  time.Time // the 80 % interval
	ForecastHigh time.Time
	PeakAt       time.Time // the last top that was called
}

// Mat is the latest about one heat mat.
type Mat struct {
	ID        string
	On        bool
	Enabled   bool // the mode is heat
	Latched   bool
	OnTime    time.Duration // on altogether, kept over restarts
	EnergyJ   *float64      // drawn altogether, kept over restarts; nil if the watts are not given
	Switches  uint64        // off to on, kept over restarts
	SetpointC *float64
	CutoffC   *float64
	MatC      *float64
	DecidedAt time.Time // the thermostat's last decision
	ChangedAt time.Time // when the mat was last switched
}

// Reading is the latest of one sensor.
type Reading struct {
	Sensor   string
	Quantity string    // distance in mm, temperature in degrees Celsius, humidity in percent
	Value    float64   //
	At       time.Time //
	Failed   bool      // the sensor has failed since; the value is no longer shown
}

// Publish is how the MQTT client stands.
type Publish struct {
	Connected               bool
	EventsWaiting           int
	Connections, EventsSent uint64
	EventsLost, StatesSent  uint64
	Commands, Refused       uint64
	Wishes, WishesRefused   uint64
	InboundLost             uint64
}

// Store is how the history stands.
type Store struct {
	Bytes       int64 // of the database
	FreeBytes   int64 // on its disk
	Waiting     int   // rows not yet committed
	Errors      uint64
	CommittedAt time.Time
}

// Notify is how one recipient of notifications stands.
type Notify struct {
	Waiting      int
	Sent, Failed uint64
}

// Vessel puts in the latest about a vessel.
func (m *Metrics) Vessel(v Vessel) {
	v.HeightMM, v.RiseMM = finite(v.HeightMM), finite(v.RiseMM)
	v.RiseRatio, v.TemperatureC = finite(v.RiseRatio), finite(v.TemperatureC)
	m.mu.Lock()
	defer m.mu.Unlock()
	m.vessels[v.ID] = v
}

// Mat puts in the latest about a mat. If it does not say when the mat was last
// switched, the first decision on which this was seen stands for it.
func (m *Metrics) Mat(v Mat) {
	v.SetpointC, v.CutoffC, v.MatC = finite(v.SetpointC), finite(v.CutoffC), finite(v.MatC)
	m.mu.Lock()
	defer m.mu.Unlock()
	if v.ChangedAt.IsZero() {
		v.ChangedAt = v.DecidedAt
		if last, ok := m.mats[v.ID]; ok && last.On == v.On {
			v.ChangedAt = last.ChangedAt
		}
	}
	m.mats[v.ID] = v
}

// Reading puts in a reading, and counts it unless it is the one before, told
// again.
func (m *Metrics) Reading(r Reading) {
	k := [2]string{r.Sensor, r.Quantity}
	m.mu.Lock()
	defer m.mu.Unlock()
	if last, ok := m.readings[k]; !ok || !last.At.Equal(r.At) {
		m.count[k]++
	}
	m.readings[k] = r
}

// SensorError counts a failed reading. From then on the sensor's last values
// are not shown, only their time.
func (m *Metrics) SensorError(sensor, reason string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.errors[[2]string{sensor, known(m.opts.ErrorReasons, reason)}]++
	for k, r := range m.readings {
		if k[0] == sensor {
			r.Failed = true
			m.readings[k] = r
		}
	}
}

// Event counts an event.
func (m *Metrics) Event(kind string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.events[known(m.opts.EventKinds, kind)]++
}

// Fault says whether a fault stands, and counts it when it begins.
func (m *Metrics) Fault(kind string, stands bool) {
	kind = known(m.opts.FaultKinds, kind)
	m.mu.Lock()
	defer m.mu.Unlock()
	if stands && !m.active[kind] {
		m.faults[kind]++
	}
	m.active[kind] = stands
}

// Forecast notes how far a forecast was from the top that came.
func (m *Metrics) Forecast(vessel string, off time.Duration) {
	m.forecast.WithLabelValues(vessel).Observe(math.Abs(off.Seconds()))
}

// Publish puts in how the MQTT client stands.
func (m *Metrics) Publish(p Publish) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.publish = &p
}

// Store puts in how the history stands.
func (m *Metrics) Store(s Store) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.store = &s
}

// Notify puts in how one recipient stands.
func (m *Metrics) Notify(recipient string, n Notify) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.notify[recipient] = n
}

// Dropped puts in how many readings one consumer behind the hub has missed.
func (m *Metrics) Dropped(consumer string, n uint64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.dropped[consumer] = float64(n)
}

func known(kinds []string, kind string) string {
	if slices.Contains(kinds, kind) {
		return kind
	}
	return other
}

func finite(v *float64) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	return v
}
