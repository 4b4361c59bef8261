package config

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
	"leavend/sensor/topic"
)

// readSensor reads one [[sensor]]: the keys of every sensor, then those of its
// chip. A key of another chip is an unknown key.
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
	s.must(d.Name != "", "name")
	s.need(s.given("chip"), "chip", "config.must_be_one_of", list(Chips()))
	if chip == "" {
		// Which keys belong here cannot be told, so none is called unknown.
		return d
	}
	if d.Measures(sensor.Temperature) {
		d.Place = cmp.Or(d.Place, sensor.AtVessel)
		word(s, "place", &d.Place, sensor.AtVessel, sensor.AtMat, sensor.AtRoom)
		s.degrees("offset_c", &d.OffsetC, limits{low: -5, high: 5})
	}
	if d.Measures(sensor.Distance) {
		s.length("offset_mm", &d.OffsetMM, limits{low: -100, high: 100})
	}
	about := chip.about()
	if d.OnI2C() {
		readI2c(s, &d, about.low, about.high)
	}
	if chip.Laser() {
		readRanger(s, &d)
	}
	if about.keys != nil {
		about.keys(s, &d)
	}
	s.doneChip(d)
	return d
}

func readProbe(s *section, d *Sensor) {
	s.text("id", &d.ID)
	s.file("path", &d.Path)
	if d.ID != "" && !aProbe().MatchString(d.ID) {
		s.wrong("id", "config.probe_id", text.Name("given", d.ID))
	}
}

var aProbe = later(`^28-[0-9a-f]{12}$`)

func readVL53L1X(s *section, d *Sensor) {
	side := d.ROI[0]
	s.whole("roi", &side, 4, 16)
	d.ROI = [2]int{side, side}
	s.flag("long", &d.Long)
	readBudget(s, d, 500*time.Millisecond)
	if ms := d.Budget.Milliseconds(); !slices.Contains([]int64{20, 33, 50, 100, 200, 500}, ms) {
		s.wrong("budget", "config.not_one_of", text.Name("given", text.Spell(d.Budget)), list([]string{"20ms", "33ms", "50ms", "100ms", "200ms", "500ms"}), text.Sub("hint", text.Message{}))
	}
}

func readBudget(s *section, d *Sensor, most time.Duration) {
	s.span("budget", &d.Budget, 20*time.Millisecond, most)
}

func readIIO(s *section, d *Sensor) {
	readInput(s, d)
	readDevice(s, d)
}

func readDevice(s *section, d *Sensor) {
	s.text("device", &d.Device)
	s.must(d.Device != "", "device")
}

func readRecording(s *section, d *Sensor) {
	s.file("file", &d.CSV)
	s.must(d.CSV != "", "file")
	s.number("speed", &d.Speed, limits{low: 0.1, high: 10_000})
	s.flag("loop", &d.Loop)
}

func readKitchen(s *section, d *Sensor) {
	s.number("speed", &d.Speed, limits{low: 0.1, high: 10_000})
	s.whole("seed", &d.Seed, 0, 1<<31-1)
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
		s.wrong("input", "config.input", text.Name("given", d.Input))
	case d.Chip == IIO && d.Quantity != 0 && is != d.Quantity && is != 0:
		s.wrong("input", "config.input_other", text.Name("given", d.Input), text.Name("is", is.String()), text.Name("quantity", d.Quantity.String()))
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
	all := map[string]sensor.Quantity{"distance": sensor.Distance, "temperature": sensor.Temperature, "humidity": sensor.Humidity}
	q := ""
	word(s, "quantity", &q, "distance", "temperature", "humidity")
	s.need(s.given("quantity"), "quantity", "config.must_be_one_of", list([]string{"distance", "temperature", "humidity"}))
	return all[q]
}

// readI2c reads where a chip sits on the I²C bus.
func readI2c(s *section, d *Sensor, low, high int) {
	s.whole("bus", &d.Bus, 0, 255)
	busAddress(s, "address", &d.Address, low, high)
	busAddress(s, "mux", &d.Mux, 0x70, 0x77)
	s.whole("mux_channel", &d.MuxChannel, 0, 7)
	s.mustWith(!s.given("mux_channel") || s.given("mux"), "mux", "mux_channel")
}

// readBus reads an [[i2c]]: the two lines that can clock a stuck bus free.
func readBus(s *section) Bus {
	b := Bus{Number: 1}
	s.whole("bus", &b.Number, 0, 255)
	s.line("free_scl", &b.FreeSCL)
	s.line("free_sda", &b.FreeSDA)
	for _, key := range []string{"free_scl", "free_sda"} {
		s.must(s.given(key), key)
	}
	s.done()
	return b
}

// busAddress reads an I²C address, and shows it as data sheets do.
func busAddress(s *section, key string, dst *int, low, high int) {
	a := 0
	switch read := value(s, key, &a, text.Say("config.want.address"), (*node).whole); {
	case !read:
	case a < low || a > high:
		s.wrong(key, "config.bus_address", text.Name("given", s.table.fields[key].quoted()), text.Name("low", fmt.Sprintf("%#x", low)), text.Name("high", fmt.Sprintf("%#x", high)))
	default:
		*dst = a
	}
}

// wakeAddress is where all laser rangers answer after power-on (data sheets of
// the VL53L1X, VL53L4CD, VL53L0X and VL6180X: 0x52 with the bit for reading).
const wakeAddress = 0x29

// readRanger reads the keys that laser rangers share.
func readRanger(s *section, d *Sensor) {
	s.line("xshut", &d.XShut)
	if d.XShut.Set && d.Address == wakeAddress {
		key := "xshut"
		if s.given("address") {
			key = "address"
		}
		s.wrong(key, "config.wakes")
	}
	s.number("crosstalk_kcps", &d.CrosstalkKcps, limits{low: 0, high: MostCrosstalk(d.Chip)})
	s.need(d.Address == wakeAddress || d.XShut.Set || !s.given("address"), "xshut", "config.moved")
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

// line reads a GPIO line.
func (s *section) line(key string, dst *Line) {
	value(s, key, dst, text.Say("config.want.line"), (*node).gpioLine)
}

func readUltrasonic(s *section, d *Sensor) {
	s.line("trigger", &d.Trigger)
	s.line("echo", &d.Echo)
	for _, key := range []string{"trigger", "echo"} {
		s.must(s.given(key), key)
	}
	s.text("air", &d.Air)
	s.temperature("air_c", &d.AirC, limits{low: 0, high: 30})
}

func readThermistor(s *section, d *Sensor) {
	s.whole("channel", &d.Channel, 0, 3)
	s.flag("thermistor_high", &d.ThermistorHigh)
	s.number("supply_v", &d.SupplyV, limits{low: 1.8, high: 4, unit: " V"})
	s.whole("supply_channel", &d.SupplyChannel, 0, 3)
	if s.given("supply_channel") && d.SupplyChannel == d.Channel {
		s.wrong("supply_channel", "config.own_channel", text.Number("given", float64(d.SupplyChannel)))
	}
	ohms := limits{low: 100, high: 1e6, unit: " Ω"}
	s.number("series_ohm", &d.SeriesOhm, ohms)
	s.number("nominal_ohm", &d.NominalOhm, ohms)
	s.number("beta_k", &d.BetaK, limits{low: 2000, high: 6000, unit: " K"})
	var items []*node
	value(s, "steinhart_hart", &items, text.Say("config.want.coefficients"), func(n *node) ([]*node, bool) { return n.items, n.shape == isList && len(n.items) == 3 })
	for i, item := range items {
		v, ok := item.number()
		if !ok || !(math.Abs(v) < 1) {
			s.wrong("steinhart_hart", "config.coefficient", text.Name("given", item.quoted()))
			return
		}
		d.SteinhartHart[i] = v
	}
}

func readTopic(s *section, d *Sensor) {
	s.text("topic", &d.Topic)
	s.must(d.Topic != "", "topic")
	if strings.ContainsAny(d.Topic, "+#") {
		s.wrong("topic", "config.wildcard", text.Name("given", d.Topic))
	}
	s.text("field", &d.Field)
	s.text("time_field", &d.TimeField)
	s.text("unit", &d.Unit)
	if d.Unit != "" && d.Quantity != 0 && !slices.Contains(topic.Units(d.Quantity), d.Unit) {
		s.wrong("unit", "config.not_one_of", text.Name("given", d.Unit), list(topic.Units(d.Quantity)), text.Sub("hint", text.Message{}))
	}
	s.span("max_age", &d.MaxAge, 5*time.Second, time.Hour)
	s.number("scale", &d.Scale, limits{low: -1e6, high: 1e6})
	if d.Scale == 0 {
		s.wrong("scale", "config.scale")
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
			hint = text.Message{}
		}
		if hint.IsZero() {
			hint = text.Say("config.hint.may", text.Name("keys", strings.Join(s.own, ", ")))
		}
		s.wrong(key, "config.chip_key", text.Name("chip", string(d.Chip)), text.Sub("hint", hint))
	}
}
