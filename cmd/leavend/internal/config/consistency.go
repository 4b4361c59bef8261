package config

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"leavend/sensor"
)

// consistency checks that the parts of a configuration fit together. It runs
// after every key has been read, and names the key that is most likely wrong.
type consistency struct {
	r *reader
	c *Config
}

func (k *consistency) check() {
	if k.r.broken {
		return // what is missing may stand in the part that could not be read
	}
	k.uniqueNames()
	for i, v := range k.c.Vessels {
		at := fmt.Sprintf("vessel[%s]", tag(v.Name, i))
		k.refer(at+".distance", v.Distance, sensor.Distance, "")
		k.refer(at+".temperature", v.Temperature, sensor.Temperature, sensor.AtVessel)
	}
	for i, s := range k.c.Sensors {
		if s.Air != "" {
			k.refer(fmt.Sprintf("sensor[%s].air", tag(s.Name, i)), s.Air, sensor.Temperature, "")
		}
	}
	k.sharedRangers()
	k.sharedWires()
	k.wakingRangers()
	k.matFits()
	k.farSensors()
}

// farSensors checks that sensors elsewhere can reach the broker.
func (k *consistency) farSensors() {
	for i, s := range k.c.Sensors {
		key := fmt.Sprintf("sensor[%s].topic", tag(s.Name, i))
		switch {
		case s.Chip != Topic:
		case !k.c.MQTT.On:
			k.wrong(key, "needs MQTT, but mqtt.on is false")
		case k.c.MQTT.local():
			k.warn(key, "the broker listens on this board only, so a sensor elsewhere cannot reach it; set mqtt.listen to \":1883\" with user and password_file")
		}
	}
}

// tag is how messages tell one of several tables from the others.
func tag(name string, i int) string { return cmp.Or(name, strconv.Itoa(i+1)) }

// wrong notes a problem with a key by its full name.
func (k *consistency) wrong(key, format string, args ...any) {
	k.r.problems = append(k.r.problems, Problem{Line: k.r.lines[key], Key: key, Text: fmt.Sprintf(format, args...)})
}

// warn notes what is allowed and yet doubtful.
func (k *consistency) warn(key, format string, args ...any) {
	k.r.warnings = append(k.r.warnings, Problem{Line: k.r.lines[key], Key: key, Text: fmt.Sprintf(format, args...)})
}

// uniqueNames finds names that two of a kind share. The line of the second
// cannot be told by its key, which is the first's as well; so it is told by
// its number.
func (k *consistency) uniqueNames() {
	names := func(kind string, n int, name func(int) string) {
		seen := map[string]int{}
		for i := range n {
			if first, ok := seen[name(i)]; ok && name(i) != "" {
				k.wrong(kind+"["+name(i)+"].name", "%s %d and %s %d are both called %q; each needs a name of its own", kind, first+1, kind, i+1, name(i))
				continue
			}
			seen[name(i)] = i
		}
	}
	names("sensor", len(k.c.Sensors), func(i int) string { return k.c.Sensors[i].Name })
	names("vessel", len(k.c.Vessels), func(i int) string { return k.c.Vessels[i].Name })
	names("notify", len(k.c.Notify), func(i int) string { return k.c.Notify[i].Name })
	slugs := map[string]string{}
	for _, v := range k.c.Vessels {
		if other, ok := slugs[v.Slug]; ok && other != v.Name && v.Slug != "" {
			k.wrong("vessel["+v.Name+"].name", "%q and %q would both be %q in topics; give one of them a slug", other, v.Name, v.Slug)
		}
		slugs[v.Slug] = v.Name
	}
}

// refer checks that a name is that of a sensor which measures the right thing
// at the right place.
func (k *consistency) refer(key, name string, q sensor.Quantity, place sensor.Place) {
	if name == "" {
		return
	}
	s, ok := k.c.Sensor(name)
	if !ok {
		k.wrong(key, "there is no sensor %q%s", name, didYouMean(name, k.c.sensorNames()))
		return
	}
	if s.Chip == "" || s.Quantity == 0 && (s.Chip == Topic || s.Chip == IIO) {
		return // what it measures is a problem already told
	}
	if !s.Measures(q) {
		k.wrong(key, "the sensor %q does not measure %s; its chip is %s%s", name, q, s.Chip, channelNote(s))
		return
	}
	if place != "" && s.Place != place {
		k.wrong(key, "the sensor %q has place %q, but one at the %s is wanted", name, s.Place, place)
	}
}

// Sensor returns the sensor of that name.
func (c *Config) Sensor(name string) (Sensor, bool) {
	for _, s := range c.Sensors {
		if s.Name == name {
			return s, true
		}
	}
	return Sensor{}, false
}

// Vessel returns the vessel of that name.
func (c *Config) Vessel(name string) (Vessel, bool) {
	for _, v := range c.Vessels {
		if v.Name == name {
			return v, true
		}
	}
	return Vessel{}, false
}

func (c *Config) sensorNames() []string {
	names := make([]string, len(c.Sensors))
	for i, s := range c.Sensors {
		names[i] = s.Name
	}
	return names
}

// sharedRangers finds vessels that name the same distance sensor: one cone
// sees one jar.
func (k *consistency) sharedRangers() {
	used := map[string]string{}
	for i, v := range k.c.Vessels {
		if other, ok := used[v.Distance]; ok && v.Distance != "" {
			k.wrong(fmt.Sprintf("vessel[%s].distance", tag(v.Name, i)), "the sensor %q already looks into %q; each vessel needs one of its own", v.Distance, other)
			continue
		}
		used[v.Distance] = v.Name
	}
	for i, s := range k.c.Sensors {
		if !k.usedSensor(s.Name) {
			key := fmt.Sprintf("sensor[%s].name", tag(s.Name, i))
			k.warn(key, "no vessel and no mat uses this sensor; it is read and published all the same")
		}
	}
}

func (k *consistency) usedSensor(name string) bool {
	for _, v := range k.c.Vessels {
		if v.Distance == name || v.Temperature == name {
			return true
		}
	}
	for _, s := range k.c.Sensors {
		if s.Air == name {
			return true
		}
	}
	m := k.c.Mat
	return m.Heats() && (m.Probe == name || m.SecondProbe == name || m.MatProbe == name || m.RoomProbe == name)
}

// wires are the lines and addresses that are taken, each with the key that takes
// it.
type wires struct {
	k     *consistency
	taken map[string]string
}

// claim takes a wire for a key; two things would fight over one that is taken.
func (w wires) claim(key, what, wire string) {
	if other, ok := w.taken[wire]; ok {
		w.k.wrong(key, "%s is already used by %s", what, other)
		return
	}
	w.taken[wire] = key
}

func (w wires) line(key string, l Line) {
	if l.Set {
		w.claim(key, "GPIO "+l.String(), l.String())
	}
}

// sharedWires finds lines and addresses that two things would fight over.
func (k *consistency) sharedWires() {
	w := wires{k, map[string]string{}}
	if k.c.Mat.Output == GPIO {
		w.line("mat.line", k.c.Mat.Line)
	}
	for i, b := range k.c.Buses {
		at := fmt.Sprintf("i2c[%d]", i+1)
		w.claim(at+".bus", fmt.Sprintf("I²C bus %d", b.Number), fmt.Sprintf("i2c bus %d", b.Number))
		w.line(at+".free_scl", b.FreeSCL)
		w.line(at+".free_sda", b.FreeSDA)
		if !slices.ContainsFunc(k.c.Sensors, func(s Sensor) bool { return s.OnI2C() && s.Bus == b.Number }) {
			k.warn(at+".free_scl", "no sensor hangs on I²C bus %d, so there is nothing to free", b.Number)
		}
	}
	probes := 0
	for i, s := range k.c.Sensors {
		w.sensor(fmt.Sprintf("sensor[%s]", tag(s.Name, i)), s)
		if s.Chip == DS18B20 {
			probes++
		}
	}
	for i, s := range k.c.Sensors {
		if s.Chip == DS18B20 && s.ID == "" && probes > 1 {
			k.wrong(fmt.Sprintf("sensor[%s].id", tag(s.Name, i)), "must be given, for there are %d ds18b20; see 'ls %s'", probes, s.Path)
		}
	}
}

// sensor takes what a sensor hangs on.
func (w wires) sensor(at string, s Sensor) {
	w.line(at+".xshut", s.XShut)
	w.line(at+".trigger", s.Trigger)
	w.line(at+".echo", s.Echo)
	switch {
	case s.Chip == DS18B20:
		w.claim(at+".id", "the 1-Wire probe "+cmp.Or(s.ID, "(the only one)"), "w1 "+s.Path+"/"+s.ID)
	case s.Chip == ADS1115NTC:
		where := fmt.Sprintf("%s input %d", s.where(), s.Channel)
		w.claim(at+".channel", where, where)
	case s.OnI2C():
		w.claim(at+".address", s.where(), s.where())
	case s.Chip == Topic:
		w.claim(at+".topic", "the number at "+s.Topic+" "+s.Field, "topic "+s.Topic+"\x00"+s.Field)
	}
}

// channelNote says which channel of a kernel device is meant.
func channelNote(s Sensor) string {
	if s.Chip != Hwmon && s.Chip != IIO || s.Input == "" {
		return ""
	}
	return fmt.Sprintf(", and its channel %s measures %s", s.Input, channelOf(s.Input))
}

// wakingRangers finds rangers that stay at 0x29 where others wake up: both
// would answer at once, and each take the other's new address. A chip on the
// bus itself is seen through every channel of a multiplexer too.
func (k *consistency) wakingRangers() {
	meet := func(a, b Sensor) bool {
		return a.Bus == b.Bus && (a.Mux == 0 || b.Mux == 0 || a.Mux == b.Mux && a.MuxChannel == b.MuxChannel)
	}
	for i, s := range k.c.Sensors {
		if !s.Chip.Laser() || s.XShut.Set || s.Address != wakeAddress {
			continue
		}
		for _, other := range k.c.Sensors {
			if !other.Chip.Laser() || !other.XShut.Set || !meet(s, other) {
				continue
			}
			k.wrong(fmt.Sprintf("sensor[%s].name", tag(s.Name, i)),
				"it stays at 0x29, where %q on the same wires wakes up, and both would answer; wire its shut-down line as well and give it xshut and an address of its own, or put it behind a multiplexer", other.Name)
			break
		}
	}
}

// String returns the line as the file may give it.
func (l Line) String() string { return fmt.Sprintf("%s:%d", l.Chip, l.Number) }

// where says which place on an I²C bus a sensor takes.
func (s Sensor) where() string {
	if s.Mux != 0 {
		return fmt.Sprintf("I²C bus %d mux %#x channel %d address %#x", s.Bus, s.Mux, s.MuxChannel, s.Address)
	}
	return fmt.Sprintf("I²C bus %d address %#x", s.Bus, s.Address)
}
