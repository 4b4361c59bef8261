package config

import (
	"strings"
	"time"
)

// Limits that no file can widen. A seedling mat's surface reaches 35 to 40 °C
// by itself in a room of 21 to 24 °C (makers' figures), and a starter is
// harmed above about 35 °C (common practice).
const (
	hardSetpointMaxC = 35
	hardVesselMaxC   = 40
	hardMatMaxC      = 60
	marginC          = 2 // least distance from a setpoint to a cutoff
)

func readMat(s *section, m *Mat) {
	word(s, "output", &m.Output, NoOutput, GPIO, Plug, Toy)
	s.line("line", &m.Line)
	s.text("vessel", &m.Vessel)
	s.text("probe", &m.Probe)
	s.text("second_probe", &m.SecondProbe)
	s.text("mat_probe", &m.MatProbe)
	s.text("room_probe", &m.RoomProbe)
	s.number("watts", &m.Watts, limits{low: 1, high: 100, unit: " W", why: "a seedling mat has 10 to 40"})
	s.number("load_kg", &m.LoadKg, limits{low: 0.1, high: 20, unit: " kg", why: "it is what stands on the mat"})
	s.whole("switch_life", &m.SwitchLife, 0, 100_000_000)
	readThermostat(s, m)
	readGuard(s, m)
	readPlug(s.section("plug"), m)
	for _, slot := range s.sections("schedule") {
		m.Schedule = append(m.Schedule, readSlot(slot, *m))
	}
	s.need(m.Output != GPIO || m.Line.Set, "line", "must be given with output \"gpio\": the GPIO line that switches the mat, such as 17")
	s.done()
}

// readThermostat reads the setpoint and who may move it how far.
func readThermostat(s *section, m *Mat) {
	l := limits{low: 10, high: hardSetpointMaxC, why: "more warmth harms the starter"}
	s.temperature("setpoint_c", &m.SetpointC, l)
	s.temperature("setpoint_min_c", &m.SetpointMinC, l)
	s.temperature("setpoint_max_c", &m.SetpointMaxC, l)
	s.degrees("hysteresis_c", &m.HysteresisC, limits{low: 0.1, high: 2, why: "less wears the switch, more swings"})
	// A setpoint outside limits that the file does not mention moves them;
	// against limits that it does mention, it is a contradiction.
	if m.SetpointC > m.SetpointMaxC {
		if s.given("setpoint_max_c") {
			s.wrong("setpoint_c", "%s is above mat.setpoint_max_c, %s", plain(m.SetpointC), plain(m.SetpointMaxC))
		}
		m.SetpointMaxC = m.SetpointC
	}
	if m.SetpointC < m.SetpointMinC {
		if s.given("setpoint_min_c") {
			s.wrong("setpoint_c", "%s is below mat.setpoint_min_c, %s", plain(m.SetpointC), plain(m.SetpointMinC))
		}
		m.SetpointMinC = m.SetpointC
	}
}

// readGuard reads the limits that take permission to heat away.
func readGuard(s *section, m *Mat) {
	s.temperature("cutoff_vessel_c", &m.CutoffVesselC, limits{low: 15, high: hardVesselMaxC, why: "a starter does not survive more"})
	s.temperature("cutoff_mat_c", &m.CutoffMatC, limits{low: 20, high: hardMatMaxC, why: "a hotter mat is a fault"})
	s.degrees("disagree_c", &m.DisagreeC, limits{low: 1, high: 15})
	s.span("min_off", &m.MinOff, 30*time.Second, time.Hour, "")
	s.span("max_on", &m.MaxOn, 10*time.Minute, 24*time.Hour, "")
	s.span("rest", &m.Rest, m.MinOff, 24*time.Hour, "it can be no shorter than min_off")
	s.number("max_duty", &m.MaxDuty, limits{low: 0.05, high: 1, why: "1 is always"})
	s.whole("switches_per_hour", &m.SwitchesPerHour, 1, 30)
	s.span("stale_after", &m.StaleAfter, 10*time.Second, 10*time.Minute, "a mat must not heat by an old reading")
	s.span("lease", &m.Lease, 5*time.Second, 5*time.Minute, "this long a mat may heat after everything else has failed")
	s.whole("start_readings", &m.StartReadings, 1, 100)
	s.span("gain_within", &m.GainWithin, 10*time.Minute, 12*time.Hour, "a probe in the vessel answers within the hour")
	s.flag("anticipate", &m.Anticipate)
	m.Rest = max(m.Rest, m.MinOff)
	key, highest := "setpoint_c", m.SetpointMaxC
	if s.given("setpoint_max_c") {
		key = "setpoint_max_c"
	}
	checkApart(s, key, highest, "cutoff_vessel_c", m.CutoffVesselC)
	checkApart(s, key, highest, "cutoff_mat_c", m.CutoffMatC)
}

// checkApart demands that a cutoff lies well above every setpoint, so that normal
// swings never reach it.
func checkApart(s *section, key string, setpoint float64, cutoffKey string, cutoff float64) {
	if cutoff-setpoint >= marginC {
		return
	}
	at := cutoffKey
	if !s.given(cutoffKey) && s.given(key) {
		at = key
	}
	s.wrong(at, "the cutoff %s = %s must lie at least %d °C above the highest setpoint, which is %s; lower %s or raise %s",
		cutoffKey, plain(cutoff), marginC, plain(setpoint), key, cutoffKey)
}

func readPlug(s *section, m *Mat) {
	p := &m.Plug
	word(s, "recipe", &p.Recipe, Tasmota, Shelly, Zigbee2MQTT, ESPHome, Custom)
	s.text("topic", &p.Topic)
	s.whole("relay", &p.Relay, 1, 32)
	s.span("echo_deadline", &p.EchoDeadline, time.Second, time.Minute, "")
	s.text("user", &p.User)
	s.secret("password", &p.Password)
	s.need((p.User != "") == p.Password.IsSet(), "user", "and a password_file must be given together: the plug's own login at the broker inside leavend")
	for _, custom := range []struct {
		key string
		dst *string
	}{
		{"command_topic", &p.CommandTopic}, {"on", &p.On}, {"off", &p.Off}, {"timer_topic", &p.TimerTopic}, {"timer", &p.Timer},
		{"state_topic", &p.StateTopic}, {"state_field", &p.StateField}, {"state_on", &p.StateOn}, {"state_off", &p.StateOff},
		{"available_topic", &p.AvailableTopic}, {"available_text", &p.AvailableText},
	} {
		s.text(custom.key, custom.dst)
		if s.given(custom.key) && p.Recipe != "" && p.Recipe != Custom {
			s.wrong(custom.key, "belongs to the recipe \"custom\" only; %q knows its own", p.Recipe)
		}
		if strings.HasSuffix(custom.key, "_topic") {
			oneTopic(s, custom.key, *custom.dst, "it must be one topic")
		}
	}
	if m.Output == Plug {
		checkPlug(s, p)
	} else if s.given("recipe") {
		s.warn("recipe", "a plug is described, but mat.output is %q, so it is not used", m.Output)
	}
	s.done()
}

// checkPlug asks for what a plug cannot do without: a command, an echo, and a
// timer that ends the heat unless it is renewed.
func checkPlug(s *section, p *PlugOutput) {
	if p.Recipe == "" && !s.given("recipe") {
		s.missing("recipe", "must be given with output \"plug\": %s", list([]Recipe{Tasmota, Shelly, Zigbee2MQTT, ESPHome, Custom}))
		return
	}
	if p.Recipe != Custom {
		s.need(p.Topic != "", "topic", "must be given: the plug's own part of its topics")
		oneTopic(s, "topic", p.Topic, "it must be one plug")
		return
	}
	for _, need := range []struct{ key, value, what string }{
		{"command_topic", p.CommandTopic, "where commands go"},
		{"on", p.On, "the command for on"},
		{"off", p.Off, "the command for off"},
		{"state_topic", p.StateTopic, "where the plug tells its state; a plug that does not confirm is not used"},
		{"state_on", p.StateOn, "what the plug says when it is on"},
		{"state_off", p.StateOff, "what the plug says when it is off"},
	} {
		s.need(need.value != "", need.key, "must be given with the recipe \"custom\": %s", need.what)
	}
	if p.StateOn != "" && p.StateOn == p.StateOff {
		s.wrong("state_on", "%q is state_off too; what the plug says must tell on from off", p.StateOn)
	}
	s.need(!strings.Contains(p.Timer, "{seconds}") || p.TimerTopic != "", "timer_topic", "must be given with timer: where the plug is told its off timer")
	s.need(strings.Contains(p.On+p.Timer, "{seconds}"), "on",
		"must carry the plug's own off timer as {seconds}, in on or in timer; a plug without one would heat on when the network fails")
}

// mostTopic is how long a plug's topic may be.
const mostTopic = 200

// oneTopic refuses what is no name of one topic (MQTT 3.1.1, section 4.7); an
// empty one is somebody else's matter.
func oneTopic(s *section, key, topic, must string) {
	switch {
	case strings.ContainsAny(topic, "+#"):
		s.wrong(key, "%q has a wildcard; %s", topic, must)
	case strings.HasPrefix(topic, "/"):
		s.wrong(key, "%q begins with a slash; leave it out", topic)
	case len(topic) > mostTopic || strings.Contains(topic, "\x00"):
		s.wrong(key, "%d bytes, or one that is zero, make no topic of a plug", len(topic))
	}
}

func readSlot(s *section, m Mat) Slot {
	slot := Slot{SetpointC: m.SetpointC}
	s.clock("from", &slot.From)
	s.clock("to", &slot.To)
	wordList(s, "days", &slot.Days, Days()...)
	word(s, "stage", &slot.Stage, Rising, AtTop, AtTarget, Falling)
	s.temperature("setpoint_c", &slot.SetpointC, limits{low: 10, high: hardSetpointMaxC, why: "more warmth harms the starter"})
	s.flag("rest", &slot.Rest)
	s.together("from", "to")
	if s.given("from") && slot.From == slot.To {
		s.wrong("to", "is the same as from; leave both out for the whole day")
	}
	if s.given("rest") && slot.Rest && s.given("setpoint_c") {
		s.wrong("rest", "a mat that rests has no setpoint; keep one of rest and setpoint_c")
	}
	s.need(slot.Rest || s.given("setpoint_c"), "setpoint_c", "must be given, or rest = true")
	if slot.SetpointC > m.SetpointMaxC || slot.SetpointC < m.SetpointMinC {
		s.wrong("setpoint_c", "%s is outside mat.setpoint_min_c to mat.setpoint_max_c, %s to %s",
			plain(slot.SetpointC), plain(m.SetpointMinC), plain(m.SetpointMaxC))
	}
	s.done()
	return slot
}

// warn notes what works but is likely not meant.
func (s *section) warn(key, format string, args ...any) {
	mark := len(s.r.problems)
	s.wrong(key, format, args...)
	s.r.warnings = append(s.r.warnings, s.r.problems[mark:]...)
	s.r.problems = s.r.problems[:mark]
}
