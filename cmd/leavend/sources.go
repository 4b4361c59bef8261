package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/host/v3/sysfs"

	"leavend/cmd/leavend/internal/config"
	"leavend/sensor"
	"leavend/sensor/recording"
	"leavend/sensor/topic"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/w1"
)

// wire is one quantity of one configured sensor, as a poller reads it.
type wire struct {
	Sensor   config.Sensor
	Quantity sensor.Quantity
	Source   sensor.Source
	Bus      string // wires of one bus are read by one goroutine
}

// key names the wire among all of them.
func (w wire) key() wireKey { return wireKey{w.Sensor.Name, w.Quantity} }

// wireKey is a sensor's name and one quantity it measures.
type wireKey struct {
	Sensor   string
	Quantity sensor.Quantity
}

// item is the name under which a poller delivers the wire.
func (k wireKey) item() string { return k.Sensor + "/" + k.Quantity.String() }

// subscriber has messages on a topic brought in. It is the MQTT client.
type subscriber func(filter string, heard func(payload []byte, at time.Time, retained bool)) error

// workbench opens the configured sensors. It opens each bus once.
type workbench struct {
	clock     *clock
	subscribe subscriber // nil without MQTT
	kitchen   func(config.Sensor) (distance, temperature sensor.Source, err error)
	buses     map[int]i2c.BusCloser
}

// open makes the wires of one sensor. A chip that does not answer yet is no
// error: its source keeps trying, and says so with every read.
func (b *workbench) open(s config.Sensor) ([]wire, error) {
	one := func(q sensor.Quantity, bus string, source sensor.Source) []wire {
		return []wire{{Sensor: s, Quantity: q, Bus: bus, Source: shift(source, s)}}
	}
	own := "sensor " + s.Name
	switch s.Chip {
	case config.DS18B20:
		return one(sensor.Temperature, "1-wire", late(func() (sensor.Source, error) { return openProbe(s) })), nil
	case config.VL53L1X:
		return one(sensor.Distance, i2cName(s.Bus), late(func() (sensor.Source, error) { return b.openVL53L1X(s) })), nil
	case config.Topic:
		source, err := b.openTopic(s)
		if err != nil {
			return nil, err
		}
		return one(s.Quantity, own, source), nil
	case config.Recording:
		player, err := openPlayer(s, b.clock)
		if err != nil {
			return nil, err
		}
		return both(s, own, player.Distance(), player.Temperature()), nil
	case config.Kitchen:
		if b.kitchen == nil {
			return nil, fmt.Errorf("sensor %s: there is no simulated kitchen here", s.Name)
		}
		distance, temperature, err := b.kitchen(s)
		if err != nil {
			return nil, fmt.Errorf("sensor %s: %w", s.Name, err)
		}
		return both(s, own, distance, temperature), nil
	}
	return nil, fmt.Errorf("sensor %s: chip %s has no driver in this version", s.Name, s.Chip)
}

// both makes the wires of a source that ranges and takes the temperature.
func both(s config.Sensor, bus string, distance, temperature sensor.Source) []wire {
	return []wire{
		{Sensor: s, Quantity: sensor.Temperature, Bus: bus, Source: shift(temperature, s)},
		{Sensor: s, Quantity: sensor.Distance, Bus: bus, Source: shift(distance, s)},
	}
}

// openProbe opens a DS18B20; without a number it is the only one there is.
func openProbe(s config.Sensor) (sensor.Source, error) {
	id := s.ID
	if id == "" {
		found, err := w1.Find(s.Path)
		if err != nil {
			return nil, err
		}
		if len(found) != 1 {
			return nil, fmt.Errorf("1-wire: %d probes are there, and the config does not say which is %s; set its id: %v", len(found), s.Name, found)
		}
		id = found[0]
	}
	return w1.New(id, w1.Opts{Root: s.Path})
}

// i2cName names an I²C bus among the buses.
func i2cName(number int) string { return fmt.Sprintf("i2c-%d", number) }

// openVL53L1X opens a laser ranger.
func (b *workbench) openVL53L1X(s config.Sensor) (sensor.Source, error) {
	bus, err := b.i2cBus(s.Bus)
	if err != nil {
		return nil, err
	}
	o := vl53l1x.Opts{BudgetMS: int(s.Budget / time.Millisecond), Cells: min(s.ROI[0], s.ROI[1])}
	if s.Long {
		o.Mode = vl53l1x.Long
	}
	return vl53l1x.New(bus, uint16(s.Address), o)
}

// openTopic opens a sensor elsewhere whose numbers arrive by MQTT.
func (b *workbench) openTopic(s config.Sensor) (sensor.Source, error) {
	if b.subscribe == nil {
		return nil, fmt.Errorf("sensor %s: mqtt.on is false, so nothing can arrive on topic %s", s.Name, s.Topic)
	}
	source, err := topic.New(s.Topic, topic.Opts{Quantity: s.Quantity, Field: s.Field, Scale: s.Scale, MaxAge: s.MaxAge})
	if err != nil {
		return nil, fmt.Errorf("sensor %s: %w", s.Name, err)
	}
	err = b.subscribe(s.Topic, func(payload []byte, at time.Time, retained bool) {
		// Why a message is no reading is told by the next Read.
		_ = source.Message(payload, at, retained)
	})
	if err != nil {
		return nil, fmt.Errorf("sensor %s: %w", s.Name, err)
	}
	return source, nil
}

// openPlayer opens a recording to be played back from now on. Rows that
// cannot be read are left out.
func openPlayer(s config.Sensor, c *clock) (*recording.Player, error) {
	f, err := os.Open(s.CSV)
	if err != nil {
		return nil, fmt.Errorf("sensor %s: %w", s.Name, err)
	}
	defer f.Close()
	rows, err := allRows(f)
	if err != nil {
		return nil, fmt.Errorf("sensor %s: %s: %w", s.Name, s.CSV, err)
	}
	player, err := recording.NewPlayer(rows, recording.PlayerOpts{Start: c.Now(), Speed: s.Speed, Loop: s.Loop})
	if err != nil {
		return nil, fmt.Errorf("sensor %s: %w", s.Name, err)
	}
	return player, nil
}

// allRows reads every good row of a recording.
func allRows(f io.Reader) ([]recording.Row, error) {
	in, err := recording.NewReader(f)
	if err != nil {
		return nil, err
	}
	var rows []recording.Row
	for {
		row, err := in.Next()
		var bad *recording.RowError
		switch {
		case errors.Is(err, io.EOF):
			return rows, nil
		case errors.As(err, &bad):
			continue
		case err != nil:
			return nil, err
		}
		rows = append(rows, row)
	}
}

// i2cBus opens a bus once. It is periph's own, which speaks to /dev/i2c-N.
func (b *workbench) i2cBus(number int) (i2c.Bus, error) {
	if bus, ok := b.buses[number]; ok {
		return bus, nil
	}
	bus, err := sysfs.NewI2C(number)
	if err != nil {
		return nil, fmt.Errorf("i2c bus %d: %w; is it switched on, and may this user open /dev/i2c-%d?", number, err, number)
	}
	if b.buses == nil {
		b.buses = map[int]i2c.BusCloser{}
	}
	b.buses[number] = bus
	return bus, nil
}

// Close closes the buses.
func (b *workbench) Close() error {
	var errs []error
	for _, bus := range b.buses {
		errs = append(errs, bus.Close())
	}
	return errors.Join(errs...)
}

// lateSource opens its source at the first read, and tries again with the
// next one if that fails: a chip may be plugged in after the daemon started.
type lateSource struct {
	open   func() (sensor.Source, error)
	source sensor.Source
}

// late returns a source that is opened when it is read.
func late(open func() (sensor.Source, error)) sensor.Source { return &lateSource{open: open} }

// Read opens the source if need be, and reads it.
func (l *lateSource) Read(ctx context.Context) (sensor.Reading, error) {
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
	if s.OffsetC == 0 && s.OffsetMM == 0 {
		return source
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

// byBus gathers wires by the bus they hang on, each bus's temperatures first,
// so that the mat never waits for a ranger.
func byBus(wires []wire) map[string][]wire {
	buses := map[string][]wire{}
	for _, w := range wires {
		buses[w.Bus] = append(buses[w.Bus], w)
	}
	for _, on := range buses {
		slices.SortStableFunc(on, func(a, b wire) int { return rank(a) - rank(b) })
	}
	return buses
}

// rank orders wires on a bus.
func rank(w wire) int {
	if w.Quantity == sensor.Temperature {
		return 0
	}
	return 1
}
