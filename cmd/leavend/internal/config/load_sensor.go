package config

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"leavend/sensor"
	"leavend/sensor/topic"
)

// readSensor reads one [[sensor]]: the keys of every sensor, then those of its
// readChip. A key of another chip is an unknown key.
func readSensor(s *section) Sensor {
	chip := Chip("")
	word(s, "chip", &chip, Chips()...)
	d := DefaultSensor(chip)
	switch chip {
	case Topic, IIO:
		d.Quantity = readQuantity(s)
	case Hwmon:
		readInput(s, &d) // which tells what it measures
	}
	s.text("name", &d.Name)
	if d.Name == "" {
		s.missing("name", "must be given: vessels and the mat call the sensor by it")
	}
	if !s.given("chip") {
		s.missing("chip", "must be given: one of %s", list(Chips()))
	}
	if chip == "" {
		// Which keys belong here cannot be told, so none is called unknown.
		return d
	}
	if measures(d, sensor.Temperature) {
		if d.Place == "" {
			d.Place = sensor.AtVessel
		}
		word(s, "place", &d.Place, sensor.AtVessel, sensor.AtMat, sensor.AtRoom)
		s.degrees("offset_c", &d.OffsetC, limits{low: -5, high: 5, why: "a thermometer that is further off is broken"})
	}
	if measures(d, sensor.Distance) {
		s.length("offset_mm", &d.OffsetMM, limits{low: -100, high: 100})
	}
	readChip(s, &d)
	s.doneChip(d)
	return d
}

// readChip reads the keys that only this kind of chip has.
func readChip(s *section, d *Sensor) {
	switch d.Chip {
	case DS18B20:
		s.text("id", &d.ID)
		s.file("path", &d.Path)
		if d.ID != "" && !regexp.MustCompile(`^28-[0-9a-f]{12}$`).MatchString(d.ID) {
			s.wrong("id", `%q is not the number of a DS18B20; it looks like "28-0316a2794cff", see 'ls /sys/bus/w1/devices'`, d.ID)
		}
	case VL53L1X:
		readRanger(s, d)
		readRoi(s, d)
		s.flag("long", &d.Long)
		s.span("budget", &d.Budget, 20*time.Millisecond, 500*time.Millisecond, "longer is steadier")
		if ms := d.Budget.Milliseconds(); !slices.Contains([]int64{20, 33, 50, 100, 200, 500}, ms) {
			s.wrong("budget", `%dms is none of the chip's own: "20ms", "33ms", "50ms", "100ms", "200ms" or "500ms"`, ms)
		}
	case VL53L4CD:
		readRanger(s, d)
		s.span("budget", &d.Budget, 20*time.Millisecond, 200*time.Millisecond, "longer is steadier")
	case VL53L0X:
		readRanger(s, d)
		s.span("budget", &d.Budget, 20*time.Millisecond, 500*time.Millisecond, "longer is steadier")
	case VL6180X:
		readRanger(s, d)
	case Ultrasonic:
		readUltrasonic(s, d)
	case ADS1115NTC:
		readThermistor(s, d)
	case SHT3x, SHT4x:
		readI2c(s, d, 0x44, 0x46)
	case BME280, BMP280:
		readI2c(s, d, 0x76, 0x77)
	case IIO:
		readInput(s, d)
		fallthrough
	case Hwmon:
		s.text("device", &d.Device)
		if d.Device == "" {
			s.missing("device", "must be given: the device's name or its folder below /sys")
		}
	case Topic:
		readTopic(s, d)
	case Recording:
		s.file("file", &d.CSV)
		if d.CSV == "" {
			s.missing("file", "must be given: the recording to play back")
		}
		s.number("speed", &d.Speed, limits{low: 0.1, high: 10_000})
		s.flag("loop", &d.Loop)
	case Kitchen:
		s.number("speed", &d.Speed, limits{low: 0.1, high: 10_000})
		s.whole("seed", &d.Seed, 0, 1<<31-1)
	}
}

// readInput reads the channel of a kernel device and sees that it measures what it
// is taken for: the kernel names its channels so (Documentation/ABI/testing/
// sysfs-bus-iio and sysfs-class-hwmon).
func readInput(s *section, d *Sensor) {
	s.text("input", &d.Input)
	is := channelOf(d.Input)
	switch {
	case d.Input == "":
	case d.Chip == Hwmon && is != sensor.Temperature && is != sensor.Humidity:
		s.wrong("input", `%q is neither a thermometer, "temp1" and on, nor a hygrometer, "humidity1" and on; see 'ls /sys/class/hwmon/*'`, d.Input)
	case d.Chip == IIO && d.Quantity != 0 && is != d.Quantity && is != 0:
		s.wrong("input", "%q measures %s, but quantity is %q; choose another channel, or set quantity = %q", d.Input, is, d.Quantity.String(), is.String())
	}
}

// channelOf tells what a channel of a kernel device measures; 0 if its name
// does not say.
func channelOf(input string) sensor.Quantity {
	for prefix, q := range map[string]sensor.Quantity{
		"temp": sensor.Temperature, "in_temp": sensor.Temperature,
		"humidity": sensor.Humidity, "in_humidityrelative": sensor.Humidity,
		"in_distance": sensor.Distance, "in_proximity": sensor.Distance,
	} {
		if strings.HasPrefix(input, prefix) {
			return q
		}
	}
	return 0
}

// readQuantity reads what a topic or a kernel device measures.
func readQuantity(s *section) sensor.Quantity {
	q := ""
	word(s, "quantity", &q, "distance", "temperature", "humidity")
	switch q {
	case "distance":
		return sensor.Distance
	case "temperature":
		return sensor.Temperature
	case "humidity":
		return sensor.Humidity
	}
	if !s.given("quantity") {
		s.missing("quantity", `must be given: "distance", "temperature" or "humidity"`)
	}
	return 0
}

// readI2c reads where a chip sits on the I²C bus.
func readI2c(s *section, d *Sensor, low, high int) {
	s.whole("bus", &d.Bus, 0, 255)
	s.busAddress("address", &d.Address, low, high)
	s.busAddress("mux", &d.Mux, 0x70, 0x77)
	s.whole("mux_channel", &d.MuxChannel, 0, 7)
	if s.given("mux_channel") && !s.given("mux") {
		s.missing("mux", "must be given with mux_channel: the address of the multiplexer, such as 0x70")
	}
}

// readBus reads an [[i2c]]: the two lines that can clock a stuck bus free.
func readBus(s *section) Bus {
	b := Bus{Number: 1}
	s.whole("bus", &b.Number, 0, 255)
	b.FreeSCL, b.FreeSDA = readLine(s, "free_scl"), readLine(s, "free_sda")
	for _, key := range []string{"free_scl", "free_sda"} {
		if !s.given(key) {
			s.missing(key, "must be given: the spare GPIO line wired to the bus's %s; it takes both lines to free a bus", strings.ToUpper(key[len("free_"):]))
		}
	}
	s.done()
	return b
}

// busAddress reads an I²C address, and shows it as data sheets do.
func (s *section) busAddress(key string, dst *int, low, high int) {
	n := s.take(key)
	if n == nil {
		return
	}
	a, ok := n.whole()
	switch {
	case !ok:
		s.wanted(key, n, "an I²C address such as 0x29, without quotes,")
	case a < low || a > high:
		s.wrong(key, "%s cannot be its address (allowed: %#x to %#x)", n.quoted(), low, high)
	default:
		*dst = a
	}
}

// wakeAddress is where all laser rangers answer after power-on (data sheets of
// the VL53L1X, VL53L4CD, VL53L0X and VL6180X: 0x52 with the bit for reading).
const wakeAddress = 0x29

// readRanger reads the keys that laser rangers share.
func readRanger(s *section, d *Sensor) {
	// 0x08 to 0x77 are the addresses that I²C leaves to devices.
	readI2c(s, d, 0x08, 0x77)
	d.XShut = readLine(s, "xshut")
	if d.XShut.Set && d.Address == wakeAddress {
		const why = "at 0x29 it would be in the way when others wake up; give one with a shut-down line (xshut) an address of its own, such as 0x30"
		if s.given("address") {
			s.wrong("address", why)
		} else {
			s.wrong("xshut", "needs an address beside it: %s", why)
		}
	}
	s.number("crosstalk_kcps", &d.CrosstalkKcps, limits{low: 0, high: MostCrosstalk(d.Chip), why: "clean the glass, or use a better one"})
	if d.Address != wakeAddress && !d.XShut.Set && s.given("address") {
		s.missing("xshut", "must be given with an address other than 0x29: the chip wakes up at 0x29, and only one that can be shut down apart from the others can be given a new address")
	}
}

// MostCrosstalk is the most light of a cover glass that a laser ranger may be
// told to take off, in thousand counts a second: what the VL53L1X's register
// holds, and for the VL6180X, which reckons with all cells at once, a guess.
func MostCrosstalk(c Chip) float64 {
	if c == VL6180X {
		return 2000
	}
	return 127
}

// readRoi reads the region of interest of a VL53L1X: the side of a square.
func readRoi(s *section, d *Sensor) {
	n := s.take("roi")
	if n == nil {
		return
	}
	v, ok := n.whole()
	if !ok {
		s.wanted("roi", n, "a whole number from 4 to 16")
		return
	}
	if s.within("roi", float64(v), n.quoted(), limits{low: 4, high: 16, why: "the receiver is 16 by 16"}) {
		d.ROI = [2]int{v, v}
	}
}

// readLine reads a GPIO line: a number on gpiochip0, or "gpiochip4:17".
func readLine(s *section, key string) Line {
	n := s.take(key)
	if n == nil {
		return Line{}
	}
	l := Line{Chip: "gpiochip0", Set: true}
	var ok bool
	if n.shape == isText {
		chip, number, found := strings.Cut(n.text, ":")
		_, err := fmt.Sscanf(number, "%d", &l.Number)
		l.Chip = chip
		ok = found && err == nil && fmt.Sprint(l.Number) == number && regexp.MustCompile(`^gpiochip[0-9]{1,3}$`).MatchString(chip)
	} else {
		l.Number, ok = n.whole()
	}
	if !ok || l.Number < 0 || l.Number > 511 {
		s.wanted(key, n, `a GPIO line such as 17 or "gpiochip4:17"`)
		return Line{}
	}
	return l
}

func readUltrasonic(s *section, d *Sensor) {
	d.Trigger = readLine(s, "trigger")
	d.Echo = readLine(s, "echo")
	for _, key := range []string{"trigger", "echo"} {
		if !s.given(key) {
			s.missing(key, "must be given: the GPIO line it is wired to")
		}
	}
	s.text("air", &d.Air)
	s.temperature("air_c", &d.AirC, limits{low: 0, high: 30, why: "the formula of the speed of sound holds from 0 to 30 °C"})
}

func readThermistor(s *section, d *Sensor) {
	readI2c(s, d, 0x48, 0x4b)
	s.whole("channel", &d.Channel, 0, 3)
	s.flag("thermistor_high", &d.ThermistorHigh)
	s.number("supply_v", &d.SupplyV, limits{low: 1.8, high: 4, unit: " V", why: "the converter reads no more"})
	s.whole("supply_channel", &d.SupplyChannel, 0, 3)
	if s.given("supply_channel") && d.SupplyChannel == d.Channel {
		s.wrong("supply_channel", "%d is the thermistor's own channel", d.SupplyChannel)
	}
	ohms := limits{low: 100, high: 1e6, unit: " Ω"}
	s.number("series_ohm", &d.SeriesOhm, ohms)
	s.number("nominal_ohm", &d.NominalOhm, ohms)
	s.number("beta_k", &d.BetaK, limits{low: 2000, high: 6000, unit: " K"})
	n := s.take("steinhart_hart")
	if n == nil {
		return
	}
	if n.shape != isList || len(n.items) != 3 {
		s.wanted("steinhart_hart", n, "a list of the three coefficients A, B and C")
		return
	}
	for i, item := range n.items {
		v, ok := item.number()
		if !ok || v <= -1 || v >= 1 || v != v {
			s.wrong("steinhart_hart", "%s is not a coefficient; they are small numbers such as 1.125e-3", item.quoted())
			return
		}
		d.SteinhartHart[i] = v
	}
}

func readTopic(s *section, d *Sensor) {
	s.text("topic", &d.Topic)
	switch {
	case d.Topic == "":
		s.missing("topic", "must be given: the topic the number arrives on")
	case strings.ContainsAny(d.Topic, "+#"):
		s.wrong("topic", "%q has a wildcard; a sensor is one topic", d.Topic)
	}
	s.text("field", &d.Field)
	s.text("time_field", &d.TimeField)
	s.text("unit", &d.Unit)
	if d.Unit != "" && d.Quantity != 0 && !slices.Contains(topic.Units(d.Quantity), d.Unit) {
		s.wrong("unit", "%q does not measure %s (allowed: %s)", d.Unit, d.Quantity, strings.Join(topic.Units(d.Quantity), ", "))
	}
	s.span("max_age", &d.MaxAge, 5*time.Second, time.Hour, "")
	s.number("scale", &d.Scale, limits{low: -1e6, high: 1e6})
	if d.Scale == 0 {
		s.wrong("scale", "0 would make every reading zero")
	}
}

// doneChip is done, with the chip named: most unknown keys of a sensor belong
// to another chip.
func (s *section) doneChip(d Sensor) {
	for _, key := range s.table.keys {
		if slices.Contains(s.own, key) {
			continue
		}
		hint := didYouMean(key, s.own)
		if slices.Contains(s.r.schema()["sensor"], key) {
			hint = ""
		}
		if hint == "" {
			hint = "; it may have " + strings.Join(s.own, ", ")
		}
		s.wrong(key, "a %s has no such key%s", d.Chip, hint)
	}
}
