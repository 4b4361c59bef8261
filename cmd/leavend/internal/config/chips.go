package config

import (
	"slices"
	"time"

	"leavend/sensor"
)

// chip is all that the config knows of a chip, or of another source of readings.
type chip struct {
	name   Chip
	gives  []sensor.Quantity // empty: the file says what it measures
	low    int               // the addresses that it may have on an I²C bus; 0 is on none
	high   int
	preset Sensor                  // what a sensor of the chip is with nothing else given
	keys   func(*section, *Sensor) // reads the keys that only this chip has; nil: there are none
}

var (
	thermometer = []sensor.Quantity{sensor.Temperature}
	ranger      = []sensor.Quantity{sensor.Distance}
	climate     = []sensor.Quantity{sensor.Temperature, sensor.Humidity}
	watch       = []sensor.Quantity{sensor.Temperature, sensor.Distance}
)

// 0x08 to 0x77 are the addresses that I²C leaves to devices; a laser ranger may
// be given any of them.
const lowestAddress, highestAddress = 0x08, 0x77

// chips are all of them, in the order of the reference.
var chips = []chip{
	{name: DS18B20, gives: thermometer, preset: Sensor{Path: "/sys/bus/w1/devices"}, keys: readProbe},
	{name: VL53L1X, gives: ranger, low: lowestAddress, high: highestAddress, preset: Sensor{Address: wakeAddress, ROI: [2]int{16, 16}, Budget: 100 * time.Millisecond}, keys: readVL53L1X},
	{name: VL53L4CD, gives: ranger, low: lowestAddress, high: highestAddress, preset: Sensor{Address: wakeAddress, Budget: 100 * time.Millisecond}, keys: func(s *section, d *Sensor) { readBudget(s, d, 200*time.Millisecond) }},
	{name: VL53L0X, gives: ranger, low: lowestAddress, high: highestAddress, preset: Sensor{Address: wakeAddress, Budget: 200 * time.Millisecond}, keys: func(s *section, d *Sensor) { readBudget(s, d, 500*time.Millisecond) }},
	{name: VL6180X, gives: ranger, low: lowestAddress, high: highestAddress, preset: Sensor{Address: wakeAddress}},
	{name: Ultrasonic, gives: ranger, preset: Sensor{AirC: 21}, keys: readUltrasonic},
	{name: ADS1115NTC, gives: thermometer, low: 0x48, high: 0x4b, preset: Sensor{Address: 0x48, SupplyChannel: -1, SupplyV: 3.3, SeriesOhm: 10_000, NominalOhm: 10_000, BetaK: 3950}, keys: readThermistor},
	{name: SHT3x, gives: climate, low: 0x44, high: 0x46, preset: Sensor{Address: 0x44, Place: sensor.AtRoom}},
	{name: SHT4x, gives: climate, low: 0x44, high: 0x46, preset: Sensor{Address: 0x44, Place: sensor.AtRoom}},
	{name: BME280, gives: climate, low: 0x76, high: 0x77, preset: Sensor{Address: 0x76, Place: sensor.AtRoom}},
	{name: BMP280, gives: thermometer, low: 0x76, high: 0x77, preset: Sensor{Address: 0x76, Place: sensor.AtRoom}},
	{name: IIO, keys: readIIO},
	{name: Hwmon, keys: readDevice},
	{name: Topic, preset: Sensor{MaxAge: time.Minute, Scale: 1}, keys: readTopic},
	{name: Recording, gives: watch, preset: Sensor{Speed: 1}, keys: readRecording},
	{name: Kitchen, gives: watch, preset: Sensor{Speed: 1, Seed: 1}, keys: readKitchen},
}

// about returns what is known of a chip; nothing of one that is not there.
func (c Chip) about() chip {
	if i := slices.IndexFunc(chips, func(one chip) bool { return one.name == c }); i >= 0 {
		return chips[i]
	}
	return chip{}
}

// Chips returns all chips, in the order of the reference.
func Chips() []Chip {
	var all []Chip
	for _, c := range chips {
		all = append(all, c.name)
	}
	return all
}

// Laser reports whether a chip is one of the laser rangers, which all wake up
// at the same address and may look through a cover glass.
func (c Chip) Laser() bool { return c.about().preset.Address == wakeAddress }

// OnI2C reports whether a sensor hangs on an I²C bus.
func (s Sensor) OnI2C() bool { return s.Chip.about().low != 0 }

// Measures reports whether the sensor gives readings of a quantity.
func (s Sensor) Measures(q sensor.Quantity) bool {
	switch {
	case s.Chip != Hwmon && s.Chip != IIO && s.Chip != Topic:
		return slices.Contains(s.Chip.about().gives, q)
	case s.Chip != Hwmon:
		return q == s.Quantity
	case channelOf(s.Input) == sensor.Humidity:
		return q == sensor.Humidity
	}
	return q == sensor.Temperature
}

// DefaultSensor returns a sensor of a chip with nothing but the chip given.
func DefaultSensor(chip Chip) Sensor {
	s := chip.about().preset
	s.Chip = chip
	if s.OnI2C() {
		s.Bus = 1
	}
	if s.Place == "" && s.Measures(sensor.Temperature) {
		s.Place = sensor.AtVessel
	}
	return s
}
