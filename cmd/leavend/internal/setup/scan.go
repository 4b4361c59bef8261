package setup

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
)

// Find is a sensor that answers on this board and that no [[sensor]] of the
// config names yet.
type Find struct {
	Key      string // tells it from others on this board: "i2c-1-0x29", "28-0316a279d5ff"
	Name     string // a name for it that the config does not use
	Chip     config.Chip
	Measures sensor.Quantity // what it is looked for
	Settings []config.Setting
}

// Scanner looks at what hangs on a board.
type Scanner struct {
	Board check.Board
	I2c   check.BusOpener
	Pause func(time.Duration)
}

// look returns the sensors that a config does not name, and what is amiss
// where one could hang. A bus that the config uses is left alone: its chips
// are being read, and a stranger's question could spoil an answer.
func (s Scanner) look(c *config.Config) (finds []Find, amiss []check.Result) {
	names := map[string]bool{}
	var used []int
	known := map[string]bool{}
	for _, have := range c.Sensors {
		names[have.Name] = true
		known[have.ID] = true
		if have.OnI2C() {
			used = append(used, have.Bus)
		}
	}
	for _, bus := range s.Board.Buses() {
		if slices.Contains(used, bus) {
			continue
		}
		found, problem := s.lookAtBus(bus)
		if problem != nil {
			amiss = append(amiss, *problem)
		}
		for _, f := range found {
			if f, ok := NameFind(bus, f, names); ok {
				finds = append(finds, f)
			}
		}
	}
	probes, result, ok := s.Board.OneWire()
	if !ok {
		return finds, append(amiss, result)
	}
	for _, id := range probes {
		if known[id] {
			continue
		}
		finds = append(finds, Find{Key: id, Name: freeName("probe", names), Chip: config.DS18B20, Measures: sensor.Temperature,
			Settings: []config.Setting{{Key: "chip", Value: quoted(config.DS18B20)}, {Key: "place", Value: `"vessel"`}, {Key: "id", Value: strconv.Quote(id)}}})
	}
	return finds, amiss
}

// lookAtBus asks who answers on one bus.
func (s Scanner) lookAtBus(bus int) ([]check.Found, *check.Result) {
	if r, ok := s.Board.I2C(bus); !ok {
		return nil, &r
	}
	wires, done, err := s.I2c(bus)
	if err != nil {
		return nil, new(check.Unopened(bus, err))
	}
	found := check.Scan(wires, nil, s.Pause)
	if err := done(); err != nil {
		return found, new(check.Unclosed(err))
	}
	return found, nil
}

// NameFind turns what answers on a bus into a sensor for the config; false
// for a stranger.
func NameFind(bus int, f check.Found, names map[string]bool) (Find, bool) {
	out := Find{Key: fmt.Sprintf("i2c-%d-0x%02x", bus, f.Address), Chip: config.Chip(f.Chip)}
	place := ""
	switch out.Chip {
	case config.VL53L0X, config.VL53L1X, config.VL53L4CD, config.VL6180X:
		out.Name, out.Measures = freeName("eye", names), sensor.Distance
	case config.SHT3x, config.SHT4x, config.BME280, config.BMP280:
		out.Name, out.Measures, place = freeName("air", names), sensor.Temperature, "room"
	case config.ADS1115NTC:
		out.Name, out.Measures, place = freeName("thermistor", names), sensor.Temperature, "vessel"
	default:
		return Find{}, false
	}
	out.Settings = []config.Setting{{Key: "chip", Value: quoted(out.Chip)}}
	if place != "" {
		out.Settings = append(out.Settings, config.Setting{Key: "place", Value: strconv.Quote(place)})
	}
	out.Settings = append(out.Settings,
		config.Setting{Key: "bus", Value: strconv.Itoa(bus)}, config.Setting{Key: "address", Value: fmt.Sprintf("0x%02x", f.Address)})
	return out, true
}

// quoted is a chip as TOML text.
func quoted(c config.Chip) string { return strconv.Quote(string(c)) }

// freeName returns a name that is not taken, and takes it.
func freeName(base string, taken map[string]bool) string {
	name := base
	for n := 2; taken[name]; n++ {
		name = fmt.Sprintf("%s-%d", base, n)
	}
	taken[name] = true
	return name
}

// Says is what the baker reads of a find.
func (f Find) Says() text.Message {
	key := "new_vessel.found.air"
	switch f.Chip {
	case config.DS18B20:
		key = "new_vessel.found.probe"
	case config.VL53L0X, config.VL53L1X, config.VL53L4CD, config.VL6180X:
		key = "new_vessel.found.ranger"
	case config.ADS1115NTC:
		key = "new_vessel.found.thermistor"
	case config.BMP280:
		key = "new_vessel.found.air_temperature"
	}
	return text.Say(key, text.Name("chip", chipTitle(f.Chip)), text.Name("key", f.Key))
}

// chipTitle is a chip's name as its maker writes it.
func chipTitle(c config.Chip) string {
	title := strings.ToUpper(string(c))
	if c == config.SHT3x || c == config.SHT4x {
		return strings.TrimSuffix(title, "X") + "x" // any of a family
	}
	return title
}
