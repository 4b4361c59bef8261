package hardware

import (
	"context"
	"slices"

	"leavend/cmd/leavend/internal/config"
	"leavend/sensor"
)

// lazySource opens its source at the first read, and tries again with the
// next one if that fails: a chip may be plugged in after the daemon started.
type lazySource struct {
	open   func() (sensor.Source, error)
	source sensor.Source
}

// lazy returns a source that is opened when it is read.
func lazy(open func() (sensor.Source, error)) sensor.Source { return &lazySource{open: open} }

// Read opens the source if need be, and reads it.
func (l *lazySource) Read(ctx context.Context) (sensor.Reading, error) {
	if l.source == nil {
		source, err := l.open()
		if err != nil {
			return sensor.Reading{}, err
		}
		l.source = source
	}
	return l.source.Read(ctx)
}

// shifted corrects a source by what the baker found when comparing it.
type shifted struct {
	sensor.Source
	celsius, mm float64
}

// shift adds a sensor's configured corrections to its readings.
func shift(source sensor.Source, s config.Sensor) sensor.Source {
	if s.Chip.Laser() || s.OffsetC == 0 && s.OffsetMM == 0 {
		return source // a laser ranger's driver adds its offset
	}
	return shifted{source, s.OffsetC, s.OffsetMM}
}

// Read reads and corrects.
func (s shifted) Read(ctx context.Context) (sensor.Reading, error) {
	r, err := s.Source.Read(ctx)
	switch r.Quantity {
	case sensor.Temperature:
		r.Value += s.celsius
	case sensor.Distance:
		r.Value += s.mm
	}
	return r, err
}

// ByBus gathers channels by the bus they hang on, each bus's temperatures first,
// so that the mat never waits for a ranger.
func ByBus(channels []Channel) map[string][]Channel {
	buses := map[string][]Channel{}
	for _, w := range channels {
		buses[w.Bus] = append(buses[w.Bus], w)
	}
	for _, on := range buses {
		slices.SortStableFunc(on, func(a, b Channel) int { return rank(a) - rank(b) })
	}
	return buses
}

// rank orders channels on a bus.
func rank(w Channel) int {
	if w.Quantity == sensor.Temperature {
		return 0
	}
	return 1
}
