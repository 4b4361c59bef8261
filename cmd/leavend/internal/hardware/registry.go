package hardware

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/sensor"
	"leavend/sensor/ads1115"
	"leavend/sensor/bus"
	"leavend/sensor/mux"
	"leavend/sensor/recording"
	kernel "leavend/sensor/sysfs"
	"leavend/sensor/topic"
	"leavend/sensor/w1"
	"leavend/sensor/xshut"
)

// Channel is one quantity of one configured sensor, as a poller reads it.
type Channel struct {
	Sensor   config.Sensor
	Quantity sensor.Quantity
	Source   sensor.Source
	Bus      string // channels of one bus are read by one goroutine
}

// Key names the channel among all of them.
func (w Channel) Key() ChannelKey { return ChannelKey{w.Sensor.Name, w.Quantity} }

// ChannelKey is a sensor's name and one quantity it measures.
type ChannelKey struct {
	Sensor   string
	Quantity sensor.Quantity
}

// Item is the name under which a poller delivers the channel.
func (k ChannelKey) Item() string { return k.Sensor + "/" + k.Quantity.String() }

// subscriber has messages on a topic brought in. It is the MQTT client.
type subscriber func(filter string, heard func(payload []byte, at time.Time, retained bool)) error

// Opener makes the channels of one sensor, as a registry does.
type Opener func(config.Sensor) ([]Channel, error)

// Registry opens the configured sensors. It opens each bus once. What is nil
// of the functions is this board's own, or is not there.
type Registry struct {
	Clock     *event.Clock
	Subscribe subscriber // nil without MQTT
	Simulated func(config.Sensor) (distance, temperature sensor.Source, err error)
	Bus       func(number int) (i2c.BusCloser, error)
	Line      func(config.Line) (gpio.PinIO, error)

	buses      map[int]*lazyBus
	muxes      map[int]*mux.Mux // by the number of the bus
	assigners  map[socketOn]*xshut.Assigner
	converters map[converterAt]*ads1115.Dev
	pins       map[config.Line]pinOr
	spares     map[int]config.Bus  // lines that free a bus, by its number
	freed      map[int]*bus.Freed  // buses that have them
	bulks      map[string]*w1.Bulk // by the file that starts a conversion
	probes     map[string]int      // how many 1-Wire probes the config has, by folder
	awake      map[string]memberOr // by sensor name
	airs       map[string]*air     // by the name of the thermometer
}

// quantity is one quantity that a source measures.
type quantity struct {
	of   sensor.Quantity
	from sensor.Source
}

// Prepare makes ready what sensors share. It is given all sensors of the
// config, also those that will not be opened: a ranger that is not read has
// to be kept asleep all the same, or it would speak for another. Buses are
// those with lines to free them. Call it before anything else is opened: see
// OpenLine.
func (r *Registry) Prepare(sensors []config.Sensor, buses ...config.Bus) {
	r.takeLines(sensors, buses)
	r.countProbes(sensors)
	r.joinMuxes(sensors)
	r.joinAssigners(sensors)
	r.watchAir(sensors)
}

// Open makes the channels of one sensor. A chip that does not answer yet is no
// error: its source keeps trying, and says so with every read.
func (r *Registry) Open(s config.Sensor) ([]Channel, error) {
	bus, found, err := r.quantities(s)
	if err != nil {
		return nil, fmt.Errorf("sensor %s: %w", s.Name, err)
	}
	channels := make([]Channel, 0, len(found))
	for _, c := range found {
		source := shift(c.from, s)
		if a := r.airs[s.Name]; a != nil && c.of == sensor.Temperature {
			source = airSource{source, a, r.Clock}
		}
		channels = append(channels, Channel{Sensor: s, Quantity: c.of, Bus: bus, Source: source})
	}
	return channels, nil
}

// quantities opens what a sensor measures, and names the bus it hangs on.
func (r *Registry) quantities(s config.Sensor) (bus string, out []quantity, err error) {
	bus = "sensor " + s.Name
	one := func(q sensor.Quantity, source sensor.Source, err error) (string, []quantity, error) {
		return bus, []quantity{{q, source}}, err
	}
	if s.OnI2C() {
		out, err = r.openI2C(s)
		return BusName(s.Bus), out, err
	}
	switch s.Chip {
	case config.DS18B20:
		bus = "1-wire"
		return one(sensor.Temperature, lazy(func() (sensor.Source, error) { return r.openProbe(s) }), nil)
	case config.Ultrasonic:
		source, err := r.openUltrasonic(s)
		return one(sensor.Distance, source, err)
	case config.IIO:
		source, err := kernel.NewIIO(s.Device, s.Input, s.Quantity, kernel.Opts{})
		return one(s.Quantity, source, err)
	case config.Hwmon:
		source, err := kernel.NewHwmon(s.Device, s.Input, kernel.Opts{})
		return one(hwmonQuantity(s), source, err)
	case config.Topic:
		source, err := r.openTopic(s)
		return one(s.Quantity, source, err)
	case config.Recording:
		player, err := openPlayer(s, r.Clock)
		if err != nil {
			return bus, nil, err
		}
		return bus, both(player.Distance(), player.Temperature()), nil
	case config.Kitchen:
		if r.Simulated == nil {
			return bus, nil, errors.New("there is no simulated kitchen here")
		}
		distance, temperature, err := r.Simulated(s)
		return bus, both(distance, temperature), err
	}
	return bus, nil, fmt.Errorf("chip %s has no driver in this version", s.Chip)
}

// both are the channels of a source that ranges and takes the temperature.
func both(distance, temperature sensor.Source) []quantity {
	return []quantity{{sensor.Temperature, temperature}, {sensor.Distance, distance}}
}

// countProbes notes how many 1-Wire probes there are.
func (r *Registry) countProbes(sensors []config.Sensor) {
	for _, s := range sensors {
		if s.Chip == config.DS18B20 {
			put(&r.probes, s.Path, r.probes[s.Path]+1)
		}
	}
}

// bulk returns what lets the probes of a 1-Wire bus convert together: nil for
// a probe that is alone, and where the kernel cannot. A bus whose file may not
// be written converts one by one, as the driver sees by itself.
func (r *Registry) bulk(s config.Sensor) *w1.Bulk {
	files, _ := filepath.Glob(filepath.Join(s.Path, "w1_bus_master*", "therm_bulk_read"))
	if r.probes[s.Path] < 2 || len(files) != 1 {
		return nil // with two buses, which probe hangs on which is not told apart here
	}
	if r.bulks[files[0]] == nil {
		put(&r.bulks, files[0], w1.NewBulk(s.Path, filepath.Base(filepath.Dir(files[0]))))
	}
	return r.bulks[files[0]]
}

// openProbe opens a DS18B20; without a number it is the only one there is.
func (r *Registry) openProbe(s config.Sensor) (sensor.Source, error) {
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
	o := w1.Opts{Root: s.Path, Bulk: r.bulk(s)}
	if s.Place != sensor.AtRoom { // those by which a mat may heat
		o.Still = stillFor
	}
	return w1.New(id, o)
}

// stillFor is how long a probe may show the same to its last digit, a 16th of a
// degree, before that is taken for a fault. A guess: a mat moves a vessel by more
// in minutes, and a room does so in an hour or two. A probe that is refused and
// sound moves soon, for the mat goes off.
const stillFor = 2 * time.Hour

// openTopic opens a sensor elsewhere whose numbers arrive by MQTT.
func (r *Registry) openTopic(s config.Sensor) (sensor.Source, error) {
	if r.Subscribe == nil {
		return nil, fmt.Errorf("mqtt.on is false, so nothing can arrive on topic %s", s.Topic)
	}
	source, err := topic.New(s.Topic, topic.Opts{Quantity: s.Quantity, Field: s.Field, TimeField: s.TimeField, Unit: s.Unit, Scale: s.Scale, MaxAge: s.MaxAge})
	if err != nil {
		return nil, err
	}
	err = r.Subscribe(s.Topic, func(payload []byte, at time.Time, retained bool) {
		// Why a message is no reading is told by the next Read.
		_ = source.Message(payload, at, retained)
	})
	if err != nil {
		return nil, err
	}
	return source, nil
}

// openPlayer opens a recording to be played back from now on. Rows that
// cannot be read are left out.
func openPlayer(s config.Sensor, c *event.Clock) (*recording.Player, error) {
	f, err := os.Open(s.CSV)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := ReadRecording(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.CSV, err)
	}
	player, err := recording.NewPlayer(rows, recording.PlayerOpts{Start: c.Now(), Speed: s.Speed, Loop: s.Loop})
	if err != nil {
		return nil, err
	}
	return player, nil
}

// ReadRecording reads every good row of a recording.
func ReadRecording(f io.Reader) ([]recording.Row, error) {
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

// Close closes the buses.
func (r *Registry) Close() error {
	var errs []error
	for _, bus := range r.buses {
		errs = append(errs, bus.Close())
	}
	return errors.Join(errs...)
}
