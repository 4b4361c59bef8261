package config

import (
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
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
	s.number("watts", &m.Watts, limits{low: 1, high: 100, unit: " W"})
	s.number("load_kg", &m.LoadKg, limits{low: 0.1, high: 20, unit: " kg"})
	s.whole("switch_life", &m.SwitchLife, 0, 100_000_000)
	readThermostat(s, m)
	readGuard(s, m)
	readPlug(s.section("plug"), m)
	for _, slot := range s.sections("schedule") {
		m.Schedule = append(m.Schedule, readSlot(slot, *m))
	}
	s.mustWith(m.Output != GPIO || m.Line.Set, "line", `output = "gpio"`)
	s.done()
}

// readThermostat reads the setpoint and who may move it how far.
func readThermostat(s *section, m *Mat) {
	l := limits{low: 10, high: hardSetpointMaxC}
	s.temperature("setpoint_c", &m.SetpointC, l)
	s.temperature("setpoint_min_c", &m.SetpointMinC, l)
	s.temperature("setpoint_max_c", &m.SetpointMaxC, l)
	s.degrees("hysteresis_c", &m.HysteresisC, limits{low: 0.1, high: 2})
	// A setpoint outside limits that the file does not mention moves them;
	// against limits that it does mention, it is a contradiction.
	if m.SetpointC > m.SetpointMaxC {
		if s.given("setpoint_max_c") {
			s.wrong("setpoint_c", "config.above_key", text.Name("given", plain(m.SetpointC)), text.Name("key", "mat.setpoint_max_c"), text.Name("limit", plain(m.SetpointMaxC)))
		}
		m.SetpointMaxC = m.SetpointC
	}
	if m.SetpointC < m.SetpointMinC {
		if s.given("setpoint_min_c") {
			s.wrong("setpoint_c", "config.below_key", text.Name("given", plain(m.SetpointC)), text.Name("key", "mat.setpoint_min_c"), text.Name("limit", plain(m.SetpointMinC)))
		}
		m.SetpointMinC = m.SetpointC
	}
}

// readGuard reads the limits that take permission to heat away.
func readGuard(s *section, m *Mat) {
	s.temperature("cutoff_vessel_c", &m.CutoffVesselC, limits{low: 15, high: hardVesselMaxC})
	s.temperature("cutoff_mat_c", &m.CutoffMatC, limits{low: 20, high: hardMatMaxC})
	s.degrees("disagree_c", &m.DisagreeC, limits{low: 1, high: 15})
	s.span("min_off", &m.MinOff, 30*time.Second, time.Hour)
	s.span("max_on", &m.MaxOn, 10*time.Minute, 24*time.Hour)
	s.span("rest", &m.Rest, m.MinOff, 24*time.Hour)
	s.number("max_duty", &m.MaxDuty, limits{low: 0.05, high: 1})
	s.whole("switches_per_hour", &m.SwitchesPerHour, 1, 30)
	s.span("stale_after", &m.StaleAfter, 10*time.Second, 10*time.Minute)
	s.span("lease", &m.Lease, 5*time.Second, 5*time.Minute)
	s.whole("start_readings", &m.StartReadings, 1, 100)
	s.span("gain_within", &m.GainWithin, 10*time.Minute, 12*time.Hour)
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
	s.wrong(at, "config.apart", text.Name("cutoff", cutoffKey), text.Name("at", plain(cutoff)), text.Number("apart", marginC),
		text.Name("setpoint", plain(setpoint)), text.Name("key", key))
}

func readPlug(s *section, m *Mat) {
	p := &m.Plug
	word(s, "recipe", &p.Recipe, Tasmota, Shelly, Zigbee2MQTT, ESPHome, Custom)
	s.text("topic", &p.Topic)
	s.whole("relay", &p.Relay, 1, 32)
	s.span("echo_deadline", &p.EchoDeadline, time.Second, time.Minute)
	s.text("user", &p.User)
	s.secret("password", &p.Password)
	s.need((p.User != "") == p.Password.IsSet(), "user", "config.together", text.Name("a", "user"), text.Name("b", "password_file"))
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
			s.wrong(custom.key, "config.custom_only", text.Name("recipe", string(p.Recipe)))
		}
		if strings.HasSuffix(custom.key, "_topic") {
			oneTopic(s, custom.key, *custom.dst)
		}
	}
	if m.Output == Plug {
		checkPlug(s, p)
	} else if s.given("recipe") {
		s.warn("recipe", "config.plug_unused", text.Name("output", string(m.Output)))
	}
	s.done()
}

// checkPlug asks for what a plug cannot do without: a command, an echo, and a
// timer that ends the heat unless it is renewed.
func checkPlug(s *section, p *PlugOutput) {
	if p.Recipe == "" && !s.given("recipe") {
		s.missing("recipe", "config.must_be_one_of", list([]Recipe{Tasmota, Shelly, Zigbee2MQTT, ESPHome, Custom}))
		return
	}
	if p.Recipe != Custom {
		s.must(p.Topic != "", "topic")
		oneTopic(s, "topic", p.Topic)
		return
	}
	for _, need := range []struct{ key, value string }{
		{"command_topic", p.CommandTopic}, {"on", p.On}, {"off", p.Off},
		{"state_topic", p.StateTopic}, {"state_on", p.StateOn}, {"state_off", p.StateOff},
	} {
		s.mustWith(need.value != "", need.key, `recipe = "custom"`)
	}
	if p.StateOn != "" && p.StateOn == p.StateOff {
		s.wrong("state_on", "config.state_same", text.Name("given", p.StateOn))
	}
	s.mustWith(!strings.Contains(p.Timer, "{seconds}") || p.TimerTopic != "", "timer_topic", "timer")
	s.need(strings.Contains(p.On+p.Timer, "{seconds}"), "on", "config.timer", text.Name("place", "{seconds}"))
}

// mostTopic is how long a plug's topic may be.
const mostTopic = 200

// oneTopic refuses what is no name of one topic (MQTT 3.1.1, section 4.7); an
// empty one is looked for elsewhere.
func oneTopic(s *section, key, topic string) {
	switch {
	case strings.ContainsAny(topic, "+#"):
		s.wrong(key, "config.wildcard", text.Name("given", topic))
	case strings.HasPrefix(topic, "/"):
		s.wrong(key, "config.slash", text.Name("given", topic))
	case len(topic) > mostTopic || strings.Contains(topic, "\x00"):
		s.wrong(key, "config.topic_long", text.Count("n", mostTopic))
	}
}

func readSlot(s *section, m Mat) Slot {
	slot := Slot{SetpointC: m.SetpointC}
	s.clock("from", &slot.From)
	s.clock("to", &slot.To)
	wordList(s, "days", &slot.Days, Days()...)
	word(s, "stage", &slot.Stage, Rising, AtTop, AtTarget, Falling)
	s.temperature("setpoint_c", &slot.SetpointC, limits{low: 10, high: hardSetpointMaxC})
	s.flag("rest", &slot.Rest)
	s.together("from", "to")
	if s.given("from") && slot.From == slot.To {
		s.wrong("to", "config.same_hours")
	}
	if s.given("rest") && slot.Rest && s.given("setpoint_c") {
		s.wrong("rest", "config.rest_setpoint")
	}
	s.need(slot.Rest || s.given("setpoint_c"), "setpoint_c", "config.must_or", text.Name("other", "rest = true"))
	if slot.SetpointC > m.SetpointMaxC || slot.SetpointC < m.SetpointMinC {
		s.wrong("setpoint_c", "config.outside_setpoints", text.Name("given", plain(slot.SetpointC)), text.Name("low", plain(m.SetpointMinC)), text.Name("high", plain(m.SetpointMaxC)))
	}
	s.done()
	return slot
}

// warn notes what works but is likely not meant.
func (s *section) warn(key, sentence string, args ...text.Arg) {
	mark := len(s.r.problems)
	s.wrong(key, sentence, args...)
	s.r.warnings = append(s.r.warnings, s.r.problems[mark:]...)
	s.r.problems = s.r.problems[:mark]
}
