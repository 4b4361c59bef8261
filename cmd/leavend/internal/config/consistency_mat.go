package config

import (
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
)

// matFits checks that a mat has a vessel, a probe it can be steered by, and
// times that fit the pace of its readings.
func (k *consistency) matFits() {
	m := &k.c.Mat
	k.refer("mat.second_probe", m.SecondProbe, sensor.Temperature, sensor.AtVessel)
	k.refer("mat.mat_probe", m.MatProbe, sensor.Temperature, sensor.AtMat)
	k.refer("mat.room_probe", m.RoomProbe, sensor.Temperature, sensor.AtRoom)
	if m.Vessel != "" {
		if _, ok := k.c.Vessel(m.Vessel); !ok {
			k.wrong("mat.vessel", "there is no vessel %q%s", m.Vessel, didYouMean(m.Vessel, vesselNames(k.c)))
		}
	}
	if !m.Heats() {
		k.refer("mat.probe", m.Probe, sensor.Temperature, sensor.AtVessel)
		return
	}
	k.matVessel()
	if m.Probe == "" {
		v, _ := k.c.Vessel(m.Vessel)
		m.Probe = v.Temperature
	}
	k.refer("mat.probe", m.Probe, sensor.Temperature, sensor.AtVessel)
	if m.Probe == "" {
		k.wrong("mat.probe", "must be given: a mat is steered by a thermometer at the vessel; name a sensor, or give the vessel a temperature")
	}
	if m.Probe != "" && m.Probe == m.SecondProbe {
		k.wrong("mat.second_probe", "%q is the probe it should check; name another one", m.Probe)
	}
	k.matPace()
	if m.Output == Plug && !k.c.MQTT.On {
		k.wrong("mat.output", "a plug needs MQTT, but mqtt.on is false")
	}
	k.matIsReal()
	k.plugLogin()
	k.matWarnings()
}

// matVessel takes the only vessel for the mat's if none is named.
func (k *consistency) matVessel() {
	m := &k.c.Mat
	switch {
	case m.Vessel != "":
	case len(k.c.Vessels) == 1:
		m.Vessel = k.c.Vessels[0].Name
	case m.Probe == "":
		k.wrong("mat.vessel", "must be given: which vessel stands on the mat")
	}
}

// matPace compares the mat's times with how often its probe is read.
func (k *consistency) matPace() {
	m := k.c.Mat
	every := 10 * time.Second
	if v, ok := k.c.Vessel(m.Vessel); ok {
		every = v.Every
	}
	if m.StaleAfter < 2*every {
		k.wrong("mat.stale_after", "%s is less than two sample periods of %s, so one late reading would switch the mat off", text.Spell(m.StaleAfter), text.Spell(every))
	}
	if m.Lease < 2*every {
		k.wrong("mat.lease", "%s is less than two sample periods of %s, so the mat would drop out between readings", text.Spell(m.Lease), text.Spell(every))
	}
	if probe, ok := k.c.Sensor(m.Probe); ok && probe.Chip == Topic && probe.MaxAge > m.StaleAfter {
		k.wrong(fmt.Sprintf("sensor[%s].max_age", probe.Name), "%s is longer than mat.stale_after, %s; the mat is steered by this sensor", text.Spell(probe.MaxAge), text.Spell(m.StaleAfter))
	}
}

// matWarnings notes what is allowed and yet not wise with a heater.
func (k *consistency) matWarnings() {
	m := k.c.Mat
	if m.MatProbe == "" {
		k.warn("mat.mat_probe", "no probe on the mat's surface, so mat.cutoff_mat_c has nothing to watch; a second ds18b20 under the jar is cheap")
	}
	// Raspberry Pi boards pull these lines up until the kernel is running.
	if n := m.Line.Number; m.Output == GPIO && m.Line.Chip == "gpiochip0" && n <= 8 {
		k.warn("mat.line", "GPIO %d is pulled up while a Raspberry Pi starts, so the mat may heat before leavend runs; use one of 9 to 13 or 16 to 27", n)
	} else if m.Output == GPIO && m.Line.Chip == "gpiochip0" && (n == 14 || n == 15) {
		k.warn("mat.line", "GPIO %d is the serial console of a Raspberry Pi; use one of 9 to 13 or 16 to 27", n)
	}
	if m.Output == Plug && k.c.MQTT.Embedded() && !k.c.MQTT.local() && m.Plug.User == "" {
		k.warn("mat.plug.user", "the plug has no login of its own, so whoever has that of the broker can say in its place that it is off; give it user and password_file")
	}
	if m.Output == Plug && k.c.MQTT.local() {
		k.warn("mqtt.listen", "%q is reached from this board only, so the plug cannot connect; listen on \":1883\" with user and password_file", k.c.MQTT.Listen)
	}
}

// plugLogin wants the plug's own login where it counts, and of its own.
func (k *consistency) plugLogin() {
	p := k.c.Mat.Plug
	switch {
	case p.User == "":
	case k.c.MQTT.URL != "":
		k.wrong("mat.plug.user", "is a login at the broker inside leavend; with mqtt.url, give the plug one at that broker, and the rights of deploy/mosquitto")
	case k.c.MQTT.User == "":
		k.wrong("mat.plug.user", "needs mqtt.user and its password_file too, by which every other client comes in")
	case p.User == k.c.MQTT.User:
		k.wrong("mat.plug.user", "must not be mqtt.user: a login of its own tells the plug from every other client")
	}
}

// matIsReal keeps a real mat from being steered by a thermometer that is not
// there, and the simulated one from being taken for real.
func (k *consistency) matIsReal() {
	m := k.c.Mat
	for _, probe := range []struct{ key, name string }{
		{"mat.probe", m.Probe}, {"mat.second_probe", m.SecondProbe}, {"mat.mat_probe", m.MatProbe},
	} {
		s, ok := k.c.Sensor(probe.name)
		if !ok || s.Chip == "" {
			continue
		}
		played := s.Chip == Recording || s.Chip == Kitchen
		switch {
		case m.Output == Toy && s.Chip != Kitchen:
			k.wrong(probe.key, "the sensor %q is a %s, but output \"kitchen\" is the simulated mat; use a sensor with chip \"kitchen\"", s.Name, s.Chip)
		case m.Output != Toy && played:
			k.wrong(probe.key, "the sensor %q is a %s and knows nothing of the real mat; a heater is steered by a real thermometer only", s.Name, s.Chip)
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
