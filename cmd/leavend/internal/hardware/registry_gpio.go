package hardware

import (
	"context"
	"strconv"
	"strings"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/sensor"
	"leavend/sensor/ultrasonic"
)

// pinOr is a GPIO line, or why it is not to be had.
type pinOr struct {
	pin gpio.PinIO
	err error
}

// takeLines finds every GPIO line that a sensor is wired to, or that frees a
// bus.
func (r *Registry) takeLines(sensors []config.Sensor, buses []config.Bus) {
	open := r.Line
	if open == nil {
		open = boardPin
	}
	take := func(line config.Line) {
		if _, ok := r.pins[line]; !ok && line.Set {
			pin, err := open(line)
			put(&r.pins, line, pinOr{pin, err})
		}
	}
	for _, s := range sensors {
		take(s.XShut)
		take(s.Trigger)
		take(s.Echo)
	}
	for _, bus := range buses {
		take(bus.FreeSCL)
		take(bus.FreeSDA)
		put(&r.spares, bus.Number, bus)
	}
}

// boardPin finds a line of this board and leaves it as it is. Its driver
// makes it an input or an output: see seekLine for what is avoided here.
func boardPin(l config.Line) (gpio.PinIO, error) {
	_, line, err := seekLine("/dev/"+l.Chip, strconv.Itoa(l.Number))
	if err != nil {
		return nil, err
	}
	return namedPin{line, l.String()}, nil
}

// namedPin is a line that says its name in errors, where periph's says a page.
type namedPin struct {
	gpio.PinIO
	name string
}

// String returns the name, as the config gives it.
func (p namedPin) String() string { return p.name }

// echoOf is a line on which an echo comes in: this board's, unless the pin is
// one itself.
func echoOf(pin gpio.PinIO, l config.Line) ultrasonic.Echo {
	if e, ok := pin.(ultrasonic.Echo); ok {
		return e
	}
	return &echoLine{path: "/dev/" + l.Chip, offset: uint32(l.Number), name: l.String()}
}

// openUltrasonic makes the source of an echo ranger. A line that is not to be
// had is told with each read.
func (r *Registry) openUltrasonic(s config.Sensor) (sensor.Source, error) {
	trigger, ok := r.pins[s.Trigger]
	echo, also := r.pins[s.Echo]
	switch {
	case !ok || !also:
		return unreadable{errNoLine}, nil
	case trigger.err != nil:
		return unreadable{trigger.err}, nil
	case echo.err != nil:
		return unreadable{echo.err}, nil
	}
	o := ultrasonic.Opts{AirC: s.AirC}
	if a := r.airs[s.Air]; a != nil {
		o.Air = func() (float64, bool) { return a.now(r.Clock.Now()) }
	}
	return ultrasonic.New(trigger.pin, echoOf(echo.pin, s.Echo), o)
}

// hwmonQuantity returns what an input of a hardware monitor measures, which
// its name tells.
func hwmonQuantity(s config.Sensor) sensor.Quantity {
	if strings.HasPrefix(s.Input, "humidity") {
		return sensor.Humidity
	}
	return sensor.Temperature
}

// air is the temperature of the air that sound goes through, as a thermometer
// on another bus last told.
type air struct {
	mu sync.Mutex // guards last
	Recent
}

// airKept is how long a temperature of the air is good for. A kitchen changes
// by some degrees an hour, and a degree is 0.17 % of a distance.
const airKept = 10 * time.Minute

// tell notes a temperature.
func (a *air) tell(celsius float64, at time.Time) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.Recent = Recent{celsius, at}
}

// now returns the temperature, if one was told lately.
func (a *air) now(at time.Time) (float64, bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	celsius := a.Within(at, airKept)
	return celsius, celsius == celsius
}

// watchAir notes which thermometers an echo ranger listens to.
func (r *Registry) watchAir(sensors []config.Sensor) {
	for _, s := range sensors {
		if s.Air != "" {
			put(&r.airs, s.Air, &air{})
		}
	}
}

// airSource tells an echo ranger what a thermometer says.
type airSource struct {
	sensor.Source
	air   *air
	clock *event.Clock
}

// Read reads the thermometer and passes the temperature on.
func (s airSource) Read(ctx context.Context) (sensor.Reading, error) {
	r, err := s.Source.Read(ctx)
	if err == nil {
		s.air.tell(r.Value, s.clock.Now())
	}
	return r, err
}
