package config

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/text"
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
			k.wrong(key, "config.needs_mqtt")
		case k.c.MQTT.local():
			k.warn(key, "config.broker_local")
		}
	}
}

// tag is how messages tell one of several tables from the others.
func tag(name string, i int) string { return cmp.Or(name, strconv.Itoa(i+1)) }

// wrong notes a problem with a key by its full name.
func (k *consistency) wrong(key, sentence string, args ...text.Arg) {
	k.r.problems = append(k.r.problems, Problem{Line: k.r.lines[key], Key: key, Say: text.Say(sentence, args...)})
}

// warn notes what is allowed and yet doubtful.
func (k *consistency) warn(key, sentence string, args ...text.Arg) {
	k.r.warnings = append(k.r.warnings, Problem{Line: k.r.lines[key], Key: key, Say: text.Say(sentence, args...)})
}

// uniqueNames finds names that two of a kind share. The line of the second
// cannot be told by its key, which is the first's as well; so it is told by
// its number.
func (k *consistency) uniqueNames() {
	names := func(kind string, n int, name func(int) string) {
		seen := map[string]int{}
		for i := range n {
			if first, ok := seen[name(i)]; ok && name(i) != "" {
				k.wrong(kind+"["+name(i)+"].name", "config.same_name", text.Name("kind", kind), text.Number("a", float64(first+1)), text.Number("b", float64(i+1)), text.Name("name", name(i)))
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
			k.wrong("vessel["+v.Name+"].name", "config.same_slug", text.Name("a", other), text.Name("b", v.Name), text.Name("slug", v.Slug))
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
		k.wrong(key, "config.no_sensor", text.Name("name", name), text.Sub("hint", didYouMean(name, k.c.sensorNames())))
		return
	}
	if s.Chip == "" || s.Quantity == 0 && (s.Chip == Topic || s.Chip == IIO) {
		return // what it measures is a problem already told
	}
	if !s.Measures(q) {
		k.wrong(key, "config.no_measure", text.Name("name", name), text.Sub("quantity", text.Say("check.quantity."+q.String())), text.Name("chip", strings.TrimSpace(string(s.Chip)+" "+s.Input)))
		return
	}
	if place != "" && s.Place != place {
		k.wrong(key, "config.place", text.Name("name", name), text.Name("place", string(s.Place)), text.Name("wanted", string(place)))
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

// ServedBy returns the slug of the vessel a sensor serves.
func (c *Config) ServedBy(sensor string) string {
	for _, v := range c.Vessels {
		if v.Distance == sensor || v.Temperature == sensor {
			return v.Slug
		}
	}
	return ""
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
			k.wrong(fmt.Sprintf("vessel[%s].distance", tag(v.Name, i)), "config.shared_ranger", text.Name("name", v.Distance), text.Name("vessel", other))
			continue
		}
		used[v.Distance] = v.Name
	}
	for i, s := range k.c.Sensors {
		if !k.usedSensor(s.Name) {
			key := fmt.Sprintf("sensor[%s].name", tag(s.Name, i))
			k.warn(key, "config.unused_sensor")
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
		w.k.wrong(key, "config.taken", text.Name("what", what), text.Name("other", other))
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
			k.warn(at+".free_scl", "config.nothing_to_free", text.Number("bus", float64(b.Number)))
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
			k.wrong(fmt.Sprintf("sensor[%s].id", tag(s.Name, i)), "config.which_probe", text.Number("n", float64(probes)), text.Name("path", s.Path))
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
		w.claim(at+".id", "1-Wire "+cmp.Or(s.ID, s.Path), "w1 "+s.Path+"/"+s.ID)
	case s.Chip == ADS1115NTC:
		where := fmt.Sprintf("%s:%d", s.where(), s.Channel)
		w.claim(at+".channel", where, where)
	case s.OnI2C():
		w.claim(at+".address", s.where(), s.where())
	case s.Chip == Topic:
		w.claim(at+".topic", strings.TrimSpace(s.Topic+" "+s.Field), "topic "+s.Topic+"\x00"+s.Field)
	}
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
			k.wrong(fmt.Sprintf("sensor[%s].name", tag(s.Name, i)), "config.stays", text.Name("other", other.Name))
			break
		}
	}
}

// String returns the line as the file may give it.
func (l Line) String() string { return fmt.Sprintf("%s:%d", l.Chip, l.Number) }

// where says which place on an I²C bus a sensor takes.
func (s Sensor) where() string {
	if s.Mux != 0 {
		return fmt.Sprintf("I²C bus %d, %#x:%d, %#x", s.Bus, s.Mux, s.MuxChannel, s.Address)
	}
	return fmt.Sprintf("I²C bus %d, %#x", s.Bus, s.Address)
}
