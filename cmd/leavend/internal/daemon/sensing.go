package daemon

import (
	"context"
	"errors"
	"math"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/sensor"
)

// sensing reads the sensors and hands on what they say: a temperature first to the
// mat, then to its vessel, and a distance to its vessel and the hub.
type sensing struct {
	m        *monitor.Monitor
	heat     *heating.Heater
	metrics  *metrics.Metrics // set before start
	registry *hardware.Registry
	channels []hardware.Channel
	beats    heartbeats
}

// open makes the channels of every configured sensor.
func (s *sensing) open(context.Context) error {
	var errs []error
	for _, c := range s.m.Conf.Sensors {
		wires, err := s.registry.Open(c)
		errs = append(errs, err)
		for i := range wires {
			wires[i] = hardware.Steadied(wires[i], s.period(c.Name)/time.Duration(2*s.rangersOn(wires[i].Bus)))
		}
		s.channels = append(s.channels, wires...)
	}
	return errors.Join(errs...)
}

// rangersOn counts the rangers of a bus and those not opened yet, so that each
// gets its share of the time; at least one.
func (s *sensing) rangersOn(bus string) int {
	n := 0
	for _, c := range s.m.Conf.Sensors {
		if c.OnI2C() && hardware.BusName(c.Bus) == bus && c.Measures(sensor.Distance) {
			n++
		}
	}
	return max(n, 1)
}

// deliver takes what a read gave. It runs on the bus's own goroutine, and the
// mat comes first.
func (s *sensing) deliver(w hardware.Channel, last *time.Time, r sensor.Reading, err error) {
	now := s.m.Clock.Now()
	s.beats.Beat(w.Bus, now)
	name := w.Sensor.Name
	if s.heat.Mat != nil && w.Quantity == sensor.Temperature {
		if err != nil {
			s.heat.Mat.Failed(now, name, err)
		} else {
			s.heat.Mat.Temperature(now, name, r.Value, r.At)
		}
	}
	s.m.Health.Record(now, w.Key(), s.subject(w), r, err, func(err error) event.AlarmText {
		return monitor.SensorAlarm(s.m.Conf, w, s.heat.PlaceOf(w.Sensor), s.heat.Needs(w), err)
	})
	if err != nil {
		s.metrics.SensorError(name, errorReason(err))
	} else if r.At.Equal(*last) {
		return // the same number still, not a new reading
	}
	if err == nil {
		s.metrics.Reading(name, w.Quantity.String())
	}
	*last = r.At
	for _, v := range s.m.Vessels {
		if v.Conf.Temperature == name && w.Quantity == sensor.Temperature && err == nil {
			r.At = now
			v.Temperature(r)
		}
		if v.Conf.Distance == name && w.Quantity == sensor.Distance {
			s.distance(v, now, r, err)
		}
	}
}

// subject returns whom a sensor serves: a vessel, the mat, or the daemon.
func (s *sensing) subject(w hardware.Channel) string {
	if slug := s.m.Conf.ServedBy(w.Sensor.Name); slug != "" {
		return slug
	}
	if s.heat.Mat != nil {
		if _, ours := s.heat.Mat.Places[w.Sensor.Name]; ours {
			return event.SubjectMat
		}
	}
	return event.SubjectDaemon
}

// distance gives a distance to its vessel, and to the hub what comes of it.
func (s *sensing) distance(v *monitor.Vessel, now time.Time, r sensor.Reading, err error) {
	mm, status := r.Value, r.Status
	if err != nil {
		mm, status = math.NaN(), errorReason(err)
	}
	sample, events := v.Distance(now, mm, status)
	if s.heat.Mat != nil && s.heat.Mat.Vessel == v.Conf.Slug {
		state := s.heat.Mat.State()
		sample.MatOn = 0
		if state.On {
			sample.MatOn = 1
		}
		if state.MatOK {
			sample.MatC = state.MatC
		}
		if state.RoomOK {
			sample.RoomC = state.RoomC
		}
		s.heat.Mat.SetStage(now, heating.ScheduleStage(sample.Stage))
	}
	s.m.Hub.Status(sample)
	for _, e := range events {
		s.m.Hub.Event(e)
	}
}

// start gives each bus its goroutine.
func (s *sensing) start(ctx context.Context, c *taskGroup) {
	for bus, wires := range hardware.ByBus(s.channels) {
		var items []sensor.Item
		byName := map[string]hardware.Channel{}
		seen := map[string]*time.Time{}
		period := usualPeriod
		for _, w := range wires {
			name := w.Key().Item()
			items = append(items, sensor.Item{Name: name, Source: w.Source})
			byName[name], seen[name] = w, new(time.Time)
			period = min(period, s.period(w.Sensor.Name))
		}
		deliver := func(name string, r sensor.Reading, err error) { s.deliver(byName[name], seen[name], r, err) }
		p := sensor.NewPoller(bus, items, deliver, sensor.PollerOpts{
			Period: s.m.Clock.Real(period),
			Late:   func(by time.Duration) { s.m.Log.Debug("a bus is slow", "bus", bus, "late", by) },
		})
		c.Go(ctx, bus, p.Run)
	}
}

// usualPeriod is how often a sensor is read unless it is wanted more often.
const usualPeriod = 10 * time.Second

// period is how often a sensor must be read: as often as the most curious of
// its users wants, and often enough for the mat.
func (s *sensing) period(name string) time.Duration {
	period := usualPeriod
	for _, v := range s.m.Conf.Vessels {
		if v.Distance == name || v.Temperature == name {
			period = min(period, v.Every)
		}
	}
	if s.heat.Mat != nil {
		if _, ours := s.heat.Mat.Places[name]; ours {
			period = min(period, s.m.Conf.Mat.StaleAfter/4)
		}
	}
	return period
}

// heartbeats remembers when each bus last gave an answer, good or bad.
type heartbeats struct{ last sync.Map } // by bus, a time.Time

// Beat notes that a bus gave an answer.
func (h *heartbeats) Beat(bus string, now time.Time) { h.last.Store(bus, now) }

// Silent returns the buses that have not answered for longer than limit.
func (h *heartbeats) Silent(now time.Time, limit time.Duration) (silent []string) {
	for bus, at := range h.last.Range {
		if now.Sub(at.(time.Time)) > limit {
			silent = append(silent, bus.(string))
		}
	}
	return silent
}

// errorReason is a short word for why a read failed, for counters.
func errorReason(err error) string {
	switch {
	case errors.Is(err, sensor.ErrHung):
		return "hung"
	case errors.Is(err, context.DeadlineExceeded):
		return "timeout"
	}
	return "failed"
}
