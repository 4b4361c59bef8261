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
			k.wrong("mat.vessel", "config.no_vessel", text.Name("name", m.Vessel), text.Sub("hint", didYouMean(m.Vessel, vesselNames(k.c))))
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
		k.wrong("mat.probe", "config.mat_probe")
	}
	if m.Probe != "" && m.Probe == m.SecondProbe {
		k.wrong("mat.second_probe", "config.second_probe", text.Name("given", m.Probe))
	}
	k.matPace()
	if m.Output == Plug && !k.c.MQTT.On {
		k.wrong("mat.output", "config.needs_mqtt")
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
		k.wrong("mat.vessel", "config.must")
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
		k.wrong("mat.stale_after", "config.pace", text.Name("given", text.Spell(m.StaleAfter)), text.Name("every", text.Spell(every)))
	}
	if m.Lease < 2*every {
		k.wrong("mat.lease", "config.pace", text.Name("given", text.Spell(m.Lease)), text.Name("every", text.Spell(every)))
	}
	if probe, ok := k.c.Sensor(m.Probe); ok && probe.Chip == Topic && probe.MaxAge > m.StaleAfter {
		k.wrong(fmt.Sprintf("sensor[%s].max_age", probe.Name), "config.max_age", text.Name("given", text.Spell(probe.MaxAge)), text.Name("limit", text.Spell(m.StaleAfter)))
	}
}

// matWarnings notes what is allowed and yet not wise with a heater.
func (k *consistency) matWarnings() {
	m := k.c.Mat
	if m.MatProbe == "" {
		k.warn("mat.mat_probe", "config.no_mat_probe")
	}
	// Raspberry Pi boards pull these lines up until the kernel is running.
	if n := m.Line.Number; m.Output == GPIO && m.Line.Chip == "gpiochip0" && n <= 8 {
		k.warn("mat.line", "config.pulled_up", text.Number("given", float64(n)))
	} else if m.Output == GPIO && m.Line.Chip == "gpiochip0" && (n == 14 || n == 15) {
		k.warn("mat.line", "config.console", text.Number("given", float64(n)))
	}
	if m.Output == Plug && k.c.MQTT.Embedded() && !k.c.MQTT.local() && m.Plug.User == "" {
		k.warn("mat.plug.user", "config.plug_login")
	}
	if m.Output == Plug && k.c.MQTT.local() {
		k.warn("mqtt.listen", "config.broker_local")
	}
}

// plugLogin wants the plug's own login where it counts, and of its own.
func (k *consistency) plugLogin() {
	p := k.c.Mat.Plug
	switch {
	case p.User == "":
	case k.c.MQTT.URL != "":
		k.wrong("mat.plug.user", "config.plug_broker")
	case k.c.MQTT.User == "":
		k.wrong("mat.plug.user", "config.plug_needs_user")
	case p.User == k.c.MQTT.User:
		k.wrong("mat.plug.user", "config.plug_same_user")
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
			k.wrong(probe.key, "config.toy_mat", text.Name("name", s.Name), text.Name("chip", string(s.Chip)))
		case m.Output != Toy && played:
			k.wrong(probe.key, "config.real_mat", text.Name("name", s.Name), text.Name("chip", string(s.Chip)))
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
