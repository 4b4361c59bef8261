package check

import (
	"cmp"
	"fmt"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
)

// Explain says what a sound configuration will do, and then what about it is doubtful.
func Explain(c *config.Config) []Result {
	out := []Result{pass("config", "check.config.sound", text.Name("file", c.File),
		text.Sub("vessels", text.Say("check.config.vessels", text.Count("n", len(c.Vessels)))),
		text.Sub("sensors", text.Say("check.config.sensors", text.Count("n", len(c.Sensors)))))}
	if len(c.Vessels) == 0 {
		out = append(out, warn("vessels", "check.vessel.none"))
	}
	for _, v := range c.Vessels {
		out = append(out, explainVessel(c, v)...)
	}
	out = append(out, explainMat(c), explainPage(c.Web), explainMQTT(c.MQTT), explainMetrics(c.Metrics))
	for _, n := range c.Notify {
		out = append(out, explainRecipient(n))
	}
	if len(c.Notify) == 0 {
		out = append(out, note("messages", "check.notify.none"))
	}
	for _, w := range c.Warnings {
		r := warn("config", "check.config.warning", text.Sub("warning", w.Explain()))
		r.Line = w.Line
		out = append(out, r)
	}
	return out
}

func explainVessel(c *config.Config, v config.Vessel) []Result {
	eye, _ := c.Sensor(v.Distance)
	says := []text.Message{text.Say("check.vessel.looks", text.Name("eye", eye.Name), text.Sub("what", wired(eye)), text.Duration("every", v.Every))}
	if probe, ok := c.Sensor(v.Temperature); ok {
		says = append(says, text.Say("check.vessel.probe", text.Name("probe", probe.Name), text.Sub("what", wired(probe))))
	} else {
		says = append(says, text.Say("check.vessel.no_probe"))
	}
	_, measured := v.Shape()
	switch {
	case v.Kind != config.Bowl:
		says = append(says, text.Say("check.vessel.peak", text.Name("starter", v.Starter)))
	case measured:
		says = append(says, text.Say("check.vessel.target_volume", text.Ratio("ratio", v.TargetRatio)))
	default:
		says = append(says, text.Say("check.vessel.target_height", text.Ratio("ratio", v.TargetRatio)))
	}
	topic := string(v.Kind) + " " + v.Name
	out := []Result{{Topic: topic, Level: Note, Says: text.Sentences(says...)}}
	if !v.Calibrated() && eye.Chip != config.Kitchen {
		out = append(out, warn(topic, "check.vessel.uncalibrated", text.Name("name", v.Name)))
	}
	return out
}

// wired says what a sensor is and where it is connected.
func wired(s config.Sensor) text.Message {
	chip := text.Name("chip", string(s.Chip))
	if s.OnI2C() {
		bus, at := text.Number("bus", float64(s.Bus)), text.Name("address", hex(s.Address))
		if s.Mux != 0 {
			return text.Say("check.wired.i2c_mux", chip, at, bus, text.Number("channel", float64(s.MuxChannel)), text.Name("mux", hex(s.Mux)))
		}
		return text.Say("check.wired.i2c", chip, at, bus)
	}
	switch s.Chip {
	case config.DS18B20:
		return text.Say("check.wired.one_wire", text.Name("chip", joined(s.Chip, s.ID)))
	case config.Ultrasonic:
		return text.Say("check.wired.gpio", chip, text.Number("trigger", float64(s.Trigger.Number)), text.Number("echo", float64(s.Echo.Number)))
	case config.Topic:
		return text.Say("check.wired.topic", text.Name("topic", s.Topic))
	case config.Recording:
		return text.Say("check.wired.recording", text.Name("file", s.CSV))
	case config.Kitchen:
		return text.Say("check.wired.simulated")
	}
	return written(joined(s.Chip, s.Device))
}

// joined is a chip with what tells it from others of its kind, where that is known.
func joined(chip config.Chip, which string) string {
	if which == "" {
		return string(chip)
	}
	return string(chip) + " " + which
}

func hex[N int | uint16](address N) string { return fmt.Sprintf("0x%02x", address) }

func explainMat(c *config.Config) Result {
	m := c.Mat
	if !m.Heats() {
		return note("mat", "check.mat.none")
	}
	by := text.Sub("by", map[config.OutputKind]text.Message{
		config.GPIO: text.Say("check.mat.by_gpio", text.Number("line", float64(m.Line.Number)), text.Name("chip", m.Line.Chip)),
		config.Plug: text.Say("check.mat.by_plug", text.Name("recipe", string(m.Plug.Recipe)), text.Name("topic", cmp.Or(m.Plug.Topic, m.Plug.CommandTopic))),
		config.Toy:  text.Say("check.mat.by_toy"),
	}[m.Output])
	under := text.Say("check.mat.under", text.Name("vessel", m.Vessel), by)
	if m.Vessel == "" {
		under = text.Say("check.mat.under_nothing", by)
	}
	vessel, stale := text.Temp("vessel", m.CutoffVesselC), text.Duration("stale", m.StaleAfter)
	cutoff := text.Say("check.mat.cutoff", vessel, stale)
	if m.MatProbe != "" {
		cutoff = text.Say("check.mat.cutoff_two", vessel, text.Temp("mat", m.CutoffMatC), stale)
	}
	var schedule text.Message
	if n := len(m.Schedule); n > 0 {
		schedule = text.Say("check.mat.schedule", text.Count("n", n))
	}
	return Result{Topic: "mat", Level: Note, Says: text.Sentences(under,
		text.Say("check.mat.holds", text.Name("probe", m.Probe), text.Temp("to", m.SetpointC), text.Temp("swing", m.HysteresisC)), cutoff,
		text.Say("check.mat.limits", text.Duration("on", m.MaxOn), text.Share("duty", m.MaxDuty), text.Duration("lease", m.Lease)), schedule)}
}

func explainPage(w config.Web) Result {
	scheme := "http"
	if w.TLS != config.TLSOff {
		scheme = "https"
	}
	url := text.Name("url", scheme+"://"+config.Reachable(w.Listen))
	switch {
	case !w.On:
		return note("page", "check.page.off")
	case config.Loopback(w.Listen):
		return note("page", "check.page.here", url)
	case w.OpenRead:
		return note("page", "check.page.network_read", url)
	}
	return note("page", "check.page.network", url)
}

func explainMQTT(m config.MQTT) Result {
	if !m.On {
		return note("mqtt", "check.mqtt.off")
	}
	prefix := text.Name("prefix", m.Prefix)
	says := text.Say("check.mqtt.elsewhere", text.Name("url", m.URL), prefix)
	switch {
	case m.Embedded() && config.Loopback(m.Listen) && m.ListenTLS == "":
		says = text.Say("check.mqtt.own_here", text.Name("at", m.Listen), prefix)
	case m.Embedded():
		says = text.Say("check.mqtt.own_network", text.Name("at", config.Reachable(m.Listen)), prefix)
	}
	hubs := text.Say("check.mqtt.hubs")
	if !m.Discovery {
		hubs = text.Say("check.mqtt.no_hubs")
	}
	return Result{Topic: "mqtt", Level: Note, Says: text.Sentences(says, hubs)}
}

func explainMetrics(m config.Metrics) Result {
	if !m.On {
		return note("metrics", "check.metrics.off")
	}
	return note("metrics", "check.metrics.at", text.Name("at", config.Reachable(m.Listen)))
}

func explainRecipient(n config.Recipient) Result {
	url := text.Name("url", n.URL.String())
	says := text.Say("check.notify.everything", url)
	if len(n.Kinds) < len(config.NoticeKinds()) {
		kinds := make([]string, len(n.Kinds))
		for i, k := range n.Kinds {
			kinds[i] = string(k)
		}
		says = text.Say("check.notify.some", url, names("kinds", kinds))
	}
	var quiet text.Message
	if n.QuietFrom != n.QuietTo {
		quiet = text.Say("check.notify.quiet", text.Name("from", n.QuietFrom.String()), text.Name("to", n.QuietTo.String()))
	}
	return Result{Topic: "notify " + n.Name, Level: Note, Says: text.Sentences(says, quiet)}
}
