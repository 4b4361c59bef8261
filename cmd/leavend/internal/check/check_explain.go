package check

import (
	"cmp"
	"fmt"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
)

// Explain says in sentences what a sound configuration will do, and then what
// about it is doubtful.
func Explain(c *config.Config) []Result {
	out := []Result{{Topic: "config", Level: Pass, Says: fmt.Sprintf("%s is sound: %s, %s.",
		c.File, count(len(c.Vessels), "vessel"), count(len(c.Sensors), "sensor"))}}
	if len(c.Vessels) == 0 {
		out = append(out, Result{Topic: "vessels", Level: Warn, Says: "none is configured, so nothing is watched.",
			Do: "add a [[sensor]] and a [[vessel]]: leavend check --propose prints them for what it finds, and the page's set-up does it with you"})
	}
	for _, v := range c.Vessels {
		out = append(out, explainVessel(c, v)...)
	}
	note := func(topic, says string) {
		out = append(out, Result{Topic: topic, Level: Note, Says: says})
	}
	note("mat", matSentence(c))
	page := Result{Topic: "page", Level: Note, Says: pageSentence(c.Web)}
	if c.Web.On && config.Loopback(c.Web.Listen) {
		page.Do = "for a phone, set web.listen = \":8420\" and web.tls = \"self-made\""
	}
	out = append(out, page)
	note("mqtt", mqttSentence(c.MQTT))
	note("metrics", metricsSentence(c.Metrics))
	for _, n := range c.Notify {
		note("notify "+n.Name, recipientSentence(n))
	}
	if len(c.Notify) == 0 {
		out = append(out, Result{Topic: "notify", Level: Note,
			Says: "no phone gets messages; events are on the page and in MQTT only.", Do: "add a [[notify]] to be told when the top is there"})
	}
	for _, w := range c.Warnings {
		out = append(out, Result{Topic: "config", Level: Warn, Says: w.String(), Line: w.Line})
	}
	return out
}

func explainVessel(c *config.Config, v config.Vessel) []Result {
	var b strings.Builder
	eye, _ := c.Sensor(v.Distance)
	fmt.Fprintf(&b, "%s (%s) looks into it every %s", eye.Name, describe(eye), text.Spell(v.Every))
	if probe, ok := c.Sensor(v.Temperature); ok {
		fmt.Fprintf(&b, "; %s (%s) takes its temperature", probe.Name, describe(probe))
	} else {
		b.WriteString("; no thermometer, so forecasts know nothing of its warmth")
	}
	if v.Kind == config.Bowl {
		if _, measured := v.Shape(); measured {
			fmt.Fprintf(&b, "; it is called when the dough has %.3g times its volume.", v.TargetRatio)
		} else {
			fmt.Fprintf(&b, "; it is called when the dough stands at %.3g times its height, which in a bowl that widens is late: give bore_bottom_mm, bore_top_mm and height_mm.", v.TargetRatio)
		}
	} else {
		fmt.Fprintf(&b, "; the top of %s is called.", v.Starter)
	}
	out := []Result{{Topic: string(v.Kind) + " " + v.Name, Level: Note, Says: b.String()}}
	if !v.Calibrated() && eye.Chip != config.Kitchen {
		out = append(out, Result{Topic: string(v.Kind) + " " + v.Name, Level: Warn,
			Says: "it is not calibrated, so its height, and how many times it has risen, cannot be told.",
			Do:   fmt.Sprintf("empty it and run: leavend calibrate %q", v.Name)})
	}
	return out
}

// describe says what a sensor is and where it hangs.
func describe(s config.Sensor) string {
	what := string(s.Chip)
	if s.OnI2C() {
		what += fmt.Sprintf(" at 0x%02x on I²C bus %d", s.Address, s.Bus)
		if s.Mux != 0 {
			what += fmt.Sprintf(" behind channel %d of the multiplexer at 0x%02x", s.MuxChannel, s.Mux)
		}
		return what
	}
	switch s.Chip {
	case config.DS18B20:
		if s.ID != "" {
			what += " " + s.ID
		}
		return what + " on 1-Wire"
	case config.Ultrasonic:
		what += fmt.Sprintf(" on GPIO %d and %d", s.Trigger.Number, s.Echo.Number)
	case config.IIO, config.Hwmon:
		what += " " + s.Device
	case config.Topic:
		what = "messages on " + s.Topic
	case config.Recording:
		what = "recording " + s.CSV
	case config.Kitchen:
		what = "simulated, nothing is really there"
	}
	return what
}

func matSentence(c *config.Config) string {
	m := c.Mat
	if !m.Heats() {
		return "none; nothing is heated."
	}
	by := map[config.OutputKind]string{
		config.GPIO: fmt.Sprintf("line %d of %s, high is on", m.Line.Number, m.Line.Chip),
		config.Plug: fmt.Sprintf("the %s plug %s", m.Plug.Recipe, cmp.Or(m.Plug.Topic, m.Plug.CommandTopic)),
		config.Toy:  "nothing: it is simulated",
	}[m.Output]
	var b strings.Builder
	fmt.Fprintf(&b, "under %s, switched by %s, steered by %s to %s ± %s.\n", or(m.Vessel, "no vessel"), by, m.Probe,
		c.Degrees(m.SetpointC), c.DegreesApart(m.HysteresisC))
	fmt.Fprintf(&b, "It goes off and stays off at %s at the vessel", c.Degrees(m.CutoffVesselC))
	if m.MatProbe != "" {
		fmt.Fprintf(&b, ", or at %s on the mat", c.Degrees(m.CutoffMatC))
	}
	fmt.Fprintf(&b, "; it goes off after %s without a reading.\n", text.Spell(m.StaleAfter))
	fmt.Fprintf(&b, "It is on for at most %s on end and %.0f %% of a day, and no \"on\" outlives %s that is not renewed.",
		text.Spell(m.MaxOn), 100*m.MaxDuty, text.Spell(m.Lease))
	if len(m.Schedule) > 0 {
		fmt.Fprintf(&b, "\nIts schedule has %s.", entries(len(m.Schedule)))
	}
	return b.String()
}

func entries(n int) string {
	if n == 1 {
		return "one entry"
	}
	return fmt.Sprintf("%d entries", n)
}

func pageSentence(w config.Web) string {
	if !w.On {
		return "off."
	}
	scheme, who := "http", "this board only"
	if w.TLS != config.TLSOff {
		scheme = "https"
	}
	if !config.Loopback(w.Listen) {
		who = "whoever is in your network and knows the password"
		if w.OpenRead {
			who = "whoever is in your network; changing anything needs the password"
		}
	}
	return fmt.Sprintf("%s://%s, for %s.", scheme, config.Reachable(w.Listen), who)
}

func mqttSentence(m config.MQTT) string {
	hub := "home hubs are told of it"
	if !m.Discovery {
		hub = "home hubs are not told of it"
	}
	switch {
	case !m.On:
		return "off."
	case m.Embedded() && config.Loopback(m.Listen) && m.ListenTLS == "":
		return fmt.Sprintf("the broker inside leavend at %s, for this board only, topics under %s/; %s.", m.Listen, m.Prefix, hub)
	case m.Embedded():
		return fmt.Sprintf("the broker inside leavend at %s, for your network with a password, topics under %s/; %s.", config.Reachable(m.Listen), m.Prefix, hub)
	}
	return fmt.Sprintf("the broker at %s, topics under %s/; %s.", m.URL, m.Prefix, hub)
}

func metricsSentence(m config.Metrics) string {
	if !m.On {
		return "off."
	}
	return fmt.Sprintf("http://%s/metrics.", config.Reachable(m.Listen))
}

func recipientSentence(n config.Recipient) string {
	says := fmt.Sprintf("address %s; ", n.URL)
	if len(n.Kinds) == len(config.NoticeKinds()) {
		says += "told of everything"
	} else {
		kinds := make([]string, len(n.Kinds))
		for i, k := range n.Kinds {
			kinds[i] = string(k)
		}
		says += "told of " + strings.Join(kinds, ", ")
	}
	if n.QuietFrom != n.QuietTo {
		says += fmt.Sprintf("; from %s to %s of mat faults only", n.QuietFrom, n.QuietTo)
	}
	return says + "."
}

// count returns "one vessel", "2 vessels" or "no vessels".
func count(n int, what string) string {
	switch n {
	case 0:
		return "no " + what + "s"
	case 1:
		return "one " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
