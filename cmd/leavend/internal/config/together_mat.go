package config

import (
	"fmt"
	"time"

	"leavend/sensor"
)

// matFits checks that a mat has a vessel, a probe it can be steered by, and
// times that fit the pace of its readings.
func (r *reader) matFits(c *Config) {
	m := &c.Mat
	r.refer(c, "mat.second_probe", m.SecondProbe, sensor.Temperature, sensor.AtVessel)
	r.refer(c, "mat.mat_probe", m.MatProbe, sensor.Temperature, sensor.AtMat)
	r.refer(c, "mat.room_probe", m.RoomProbe, sensor.Temperature, sensor.AtRoom)
	if m.Vessel != "" {
		if _, ok := c.Vessel(m.Vessel); !ok {
			r.at("mat.vessel", "there is no vessel %q%s", m.Vessel, didYouMean(m.Vessel, vesselNames(c)))
		}
	}
	if !m.Heats() {
		r.refer(c, "mat.probe", m.Probe, sensor.Temperature, sensor.AtVessel)
		return
	}
	r.matVessel(c)
	if m.Probe == "" {
		v, _ := c.Vessel(m.Vessel)
		m.Probe = v.Temperature
	}
	r.refer(c, "mat.probe", m.Probe, sensor.Temperature, sensor.AtVessel)
	if m.Probe == "" {
		r.at("mat.probe", "must be given: a mat is steered by a thermometer at the vessel; name a sensor, or give the vessel a temperature")
	}
	if m.Probe != "" && m.Probe == m.SecondProbe {
		r.at("mat.second_probe", "%q is the probe it should check; name another one", m.Probe)
	}
	r.matPace(c)
	if m.Output == Plug && !c.MQTT.On {
		r.at("mat.output", "a plug needs MQTT, but mqtt.on is false")
	}
	r.matIsReal(c)
	r.plugLogin(c)
	r.matWarnings(c)
}

// matVessel takes the only vessel for the mat's if none is named.
func (r *reader) matVessel(c *Config) {
	m := &c.Mat
	switch {
	case m.Vessel != "":
	case len(c.Vessels) == 1:
		m.Vessel = c.Vessels[0].Name
	case m.Probe == "":
		r.at("mat.vessel", "must be given: which vessel stands on the mat")
	}
}

// matPace compares the mat's times with how often its probe is read.
func (r *reader) matPace(c *Config) {
	m := c.Mat
	every := 10 * time.Second
	if v, ok := c.Vessel(m.Vessel); ok {
		every = v.Every
	}
	if m.StaleAfter < 2*every {
		r.at("mat.stale_after", "%s is less than two sample periods of %s, so one late reading would switch the mat off", short(m.StaleAfter), short(every))
	}
	if m.Lease < 2*every {
		r.at("mat.lease", "%s is less than two sample periods of %s, so the mat would drop out between readings", short(m.Lease), short(every))
	}
	if probe, ok := c.Sensor(m.Probe); ok && probe.Chip == Topic && probe.MaxAge > m.StaleAfter {
		r.at(fmt.Sprintf("sensor[%s].max_age", probe.Name), "%s is longer than mat.stale_after, %s; the mat is steered by this sensor", short(probe.MaxAge), short(m.StaleAfter))
	}
}

// matWarnings notes what is allowed and yet not wise with a heater.
func (r *reader) matWarnings(c *Config) {
	warn := func(key, format string, args ...any) {
		r.warnings = append(r.warnings, Problem{Line: r.lines[key], Key: key, Text: fmt.Sprintf(format, args...)})
	}
	m := c.Mat
	if m.MatProbe == "" {
		warn("mat.mat_probe", "no probe on the mat's surface, so mat.cutoff_mat_c has nothing to watch; a second ds18b20 under the jar is cheap")
	}
	// Raspberry Pi boards pull these lines up until the kernel is running.
	if n := m.Line.Number; m.Output == GPIO && m.Line.Chip == "gpiochip0" && n <= 8 {
		warn("mat.line", "GPIO %d is pulled up while a Raspberry Pi starts, so the mat may heat before leavend runs; use one of 9 to 13 or 16 to 27", n)
	} else if m.Output == GPIO && m.Line.Chip == "gpiochip0" && (n == 14 || n == 15) {
		warn("mat.line", "GPIO %d is the serial console of a Raspberry Pi; use one of 9 to 13 or 16 to 27", n)
	}
	if m.Output == Plug && c.MQTT.Embedded() && !c.MQTT.local() && m.Plug.User == "" {
		warn("mat.plug.user", "the plug has no login of its own, so whoever has that of the broker can say in its place that it is off; give it user and password_file")
	}
	if m.Output == Plug && c.MQTT.local() {
		warn("mqtt.listen", "%q is reached from this board only, so the plug cannot connect; listen on \":1883\" with user and password_file", c.MQTT.Listen)
	}
}

// plugLogin wants the plug's own login where it counts, and of its own.
func (r *reader) plugLogin(c *Config) {
	p := c.Mat.Plug
	switch {
	case p.User == "":
	case c.MQTT.URL != "":
		r.at("mat.plug.user", "is a login at the broker inside leavend; with mqtt.url, give the plug one at that broker, and the rights of deploy/mosquitto")
	case c.MQTT.User == "":
		r.at("mat.plug.user", "needs mqtt.user and its password_file too, by which everybody else comes in")
	case p.User == c.MQTT.User:
		r.at("mat.plug.user", "must not be mqtt.user: a login of its own tells the plug from everybody else")
	}
}

// matIsReal keeps a real mat from being steered by a thermometer that is not
// there, and the simulated one from being taken for real.
func (r *reader) matIsReal(c *Config) {
	m := c.Mat
	for _, probe := range []struct{ key, name string }{
		{"mat.probe", m.Probe}, {"mat.second_probe", m.SecondProbe}, {"mat.mat_probe", m.MatProbe},
	} {
		s, ok := c.Sensor(probe.name)
		if !ok || s.Chip == "" {
			continue
		}
		played := s.Chip == Recording || s.Chip == Kitchen
		switch {
		case m.Output == Toy && s.Chip != Kitchen:
			r.at(probe.key, "the sensor %q is a %s, but output \"kitchen\" is the simulated mat; use a sensor with chip \"kitchen\"", s.Name, s.Chip)
		case m.Output != Toy && played:
			r.at(probe.key, "the sensor %q is a %s and knows nothing of the real mat; a heater is steered by a real thermometer only", s.Name, s.Chip)
		}
	}
}

func vesselNames(c *Config) []string {
	names := make([]string, len(c.Vessels))
	for i, v := range c.Vessels {
		names[i] = v.Name
	}
	return names
}
