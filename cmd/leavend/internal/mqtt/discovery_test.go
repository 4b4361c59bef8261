package mqtt

import (
	"bytes"
	"encoding/json"
	"fmt"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"maps"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The schema below is written from the hub's published integration pages
// (mqtt, sensor.mqtt, binary_sensor.mqtt, climate.mqtt, button.mqtt, time.mqtt,
// event.mqtt, device_trigger.mqtt) and its discovery validation, as of November
// 2026. It names what we use and refuses every key that it does not know.

// check returns what is wrong with a value, or an empty string.
type check func(v any) string

func text(v any) string {
	if s, ok := v.(string); !ok || s == "" {
		return "want text"
	}
	return ""
}

func textOrNull(v any) string {
	if v == nil {
		return ""
	}
	return text(v)
}

func topicName(v any) string {
	s, _ := v.(string)
	if err := CheckTopic(s); err != nil {
		return err.Error()
	}
	return ""
}

func templateText(v any) string {
	if s, _ := v.(string); !regexp.MustCompile(`^\{\{ value_json\.[a-z_]+ \}\}$`).MatchString(s) {
		return "want a template"
	}
	return ""
}

// attributes is a template that makes a JSON object of one field.
func attributes(v any) string {
	if s, _ := v.(string); !regexp.MustCompile(`^\{\{ \{'[a-z]+': value_json\.[a-z_]+\} \| tojson \}\}$`).MatchString(s) {
		return "want a template of an object"
	}
	return ""
}

// icon is a name of the set that the hub brings.
func icon(v any) string {
	if s, _ := v.(string); !regexp.MustCompile(`^mdi:[a-z-]+$`).MatchString(s) {
		return "want an icon"
	}
	return ""
}

func numeric(v any) string {
	if _, ok := v.(float64); !ok {
		return "want a number"
	}
	return ""
}

func whole(v any) string {
	if n, ok := v.(float64); !ok || n < 0 || n != float64(int(n)) {
		return "want a whole number"
	}
	return ""
}

func texts(v any) string {
	list, ok := v.([]any)
	if !ok || len(list) == 0 {
		return "want a list of texts"
	}
	for _, e := range list {
		if text(e) != "" {
			return "want a list of texts"
		}
	}
	return ""
}

func oneOf(words ...any) check {
	return func(v any) string {
		if !slices.Contains(words, v) {
			return fmt.Sprintf("want one of %v", words)
		}
		return ""
	}
}

func subsetOf(words ...any) check {
	return func(v any) string {
		list, _ := v.([]any)
		for _, e := range list {
			if !slices.Contains(words, e) {
				return fmt.Sprintf("want some of %v", words)
			}
		}
		return texts(v)
	}
}

// shape says which keys an object may have; those in need it must have.
type shape struct {
	need []string
	may  map[string]check
}

func (s shape) verify(t *testing.T, where string, o map[string]any) {
	t.Helper()
	for _, k := range s.need {
		if _, ok := o[k]; !ok {
			t.Errorf("%s: %s is missing", where, k)
		}
	}
	for k, v := range o {
		if c, ok := s.may[k]; !ok {
			t.Errorf("%s: the hub knows no key %s", where, k)
		} else if wrong := c(v); wrong != "" {
			t.Errorf("%s: %s = %v: %s", where, k, v, wrong)
		}
	}
}

func object(v any) string {
	if _, ok := v.(map[string]any); !ok {
		return "want an object"
	}
	return ""
}

func objects(v any) string {
	list, ok := v.([]any)
	if !ok || len(list) == 0 {
		return "want a list of objects"
	}
	for _, e := range list {
		if object(e) != "" {
			return "want a list of objects"
		}
	}
	return ""
}

var (
	rootShape = shape{[]string{"device", "origin", "components"}, map[string]check{
		"device": object, "origin": object, "components": object, "availability": objects,
		"availability_mode": oneOf("all", "any", "latest"), "qos": oneOf(0.0, 1.0, 2.0),
		"state_topic": topicName, "command_topic": topicName, "encoding": text,
	}}
	deviceShape = shape{[]string{"identifiers"}, map[string]check{
		"identifiers": texts, "connections": objects, "name": text, "manufacturer": text, "model": text, "sw_version": text,
		"hw_version": text, "serial_number": text, "via_device": text, "suggested_area": text, "configuration_url": text,
	}}
	originShape = shape{[]string{"name"}, map[string]check{"name": text, "sw_version": text, "support_url": text}}
	timeShape   = shape{[]string{"command_topic", "unique_id", "device", "origin"}, map[string]check{
		"name": text, "unique_id": text, "icon": icon, "command_topic": topicName, "state_topic": topicName, "value_template": templateText,
		"qos": oneOf(0.0, 1.0, 2.0), "availability": objects, "availability_mode": oneOf("all", "any", "latest"), "device": object, "origin": object,
	}}
	availShape = shape{[]string{"topic"}, map[string]check{
		"topic": topicName, "payload_available": text, "payload_not_available": text, "value_template": templateText,
	}}
)

// entity adds the keys that every entity may have.
func entity(need []string, may map[string]check) shape {
	all := map[string]check{
		"platform": text, "name": textOrNull, "unique_id": text, "entity_category": oneOf("config", "diagnostic"),
		"icon": icon, "default_entity_id": text, "availability": objects, "availability_mode": oneOf("all", "any", "latest"),
		"json_attributes_topic": topicName, "json_attributes_template": attributes, "enabled_by_default": oneOf(true, false),
	}
	maps.Copy(all, may)
	return shape{append(need, "platform", "unique_id"), all}
}

func partShapes() map[string]shape {
	return map[string]shape{
		"sensor": entity([]string{"state_topic"}, map[string]check{
			"state_topic": topicName, "value_template": templateText, "device_class": oneOf("distance", "temperature", "timestamp", "enum", "energy"),
			"unit_of_measurement": oneOf("mm", "°C", "kWh"), "state_class": oneOf("measurement", "total", "total_increasing"),
			"suggested_display_precision": whole, "expire_after": whole, "options": texts,
		}),
		"binary_sensor": entity([]string{"state_topic"}, map[string]check{
			"state_topic": topicName, "value_template": templateText, "device_class": oneOf("running", "problem", "heat", "safety"),
			"payload_on": text, "payload_off": text, "expire_after": whole,
		}),
		"button": entity([]string{"command_topic"}, map[string]check{"command_topic": topicName, "payload_press": text}),
		"event":  entity([]string{"state_topic", "event_types"}, map[string]check{"state_topic": topicName, "event_types": texts}),
		"climate": entity([]string{"modes"}, map[string]check{
			"modes":            subsetOf("auto", "off", "cool", "heat", "dry", "fan_only"),
			"mode_state_topic": topicName, "mode_state_template": templateText, "mode_command_topic": topicName,
			"temperature_state_topic": topicName, "temperature_state_template": templateText, "temperature_command_topic": topicName,
			"current_temperature_topic": topicName, "current_temperature_template": templateText,
			"action_topic": topicName, "action_template": templateText, "min_temp": numeric, "max_temp": numeric,
			"temp_step": numeric, "precision": oneOf(0.1, 0.5, 1.0), "temperature_unit": oneOf("C", "F"),
		}),
		"device_automation": {[]string{"platform", "automation_type", "topic", "type", "subtype"}, map[string]check{
			"platform": text, "automation_type": oneOf("trigger"), "topic": topicName, "type": text, "subtype": text,
			"payload": text, "value_template": templateText, "qos": oneOf(0.0, 1.0, 2.0),
		}},
	}
}

// verifyAnnouncement checks one discovery message against the schema, and
// that each template names a field which state really has.
func verifyAnnouncement(t *testing.T, topic string, payload []byte, states map[string]map[string]any, unique map[string]bool) {
	t.Helper()
	var root map[string]any
	if err := json.Unmarshal(payload, &root); err != nil {
		t.Fatal(err)
	}
	if regexp.MustCompile(`^homeassistant/time/[a-zA-Z0-9_-]+/[a-zA-Z0-9_-]+/config$`).MatchString(topic) {
		timeShape.verify(t, topic, root)
		deviceShape.verify(t, topic+" device", root["device"].(map[string]any))
		verifyFields(t, topic, root, states)
		unique[root["unique_id"].(string)] = true
		return
	}
	if !regexp.MustCompile(`^homeassistant/device/[a-zA-Z0-9_-]+/config$`).MatchString(topic) {
		t.Errorf("topic %s is not one that the hub reads", topic)
	}
	rootShape.verify(t, topic, root)
	deviceShape.verify(t, topic+" device", root["device"].(map[string]any))
	originShape.verify(t, topic+" origin", root["origin"].(map[string]any))
	for _, a := range root["availability"].([]any) {
		availShape.verify(t, topic+" availability", a.(map[string]any))
	}
	for key, v := range root["components"].(map[string]any) {
		part, where := v.(map[string]any), topic+" "+key
		platform, _ := part["platform"].(string)
		s, ok := partShapes()[platform]
		if !ok {
			t.Errorf("%s: platform %q is not one of ours", where, platform)
			continue
		}
		s.verify(t, where, part)
		verifyClasses(t, where, part)
		verifyFields(t, where, part, states)
		if id, ok := part["unique_id"].(string); ok && unique[id] {
			t.Errorf("%s: unique_id %s stands twice", where, id)
		} else if ok {
			unique[id] = true
		}
	}
}

// verifyClasses holds the rules between keys.
func verifyClasses(t *testing.T, where string, part map[string]any) {
	t.Helper()
	class := part["device_class"]
	if class == "timestamp" || class == "enum" {
		for _, k := range []string{"state_class", "unit_of_measurement"} {
			if part[k] != nil {
				t.Errorf("%s: a %v has no %s", where, class, k)
			}
		}
	}
	// Energy that only grows is what the hub's energy page adds up.
	if class == "energy" && (part["state_class"] != "total_increasing" || part["unit_of_measurement"] != "kWh") {
		t.Errorf("%s: energy must be total_increasing, in kWh", where)
	}
	if (class == "enum") != (part["options"] != nil) {
		t.Errorf("%s: options go with enum and with nothing else", where)
	}
	if part["platform"] == "climate" && part["min_temp"].(float64) >= part["max_temp"].(float64) {
		t.Errorf("%s: min_temp is not below max_temp", where)
	}
}

// verifyFields looks up each template's field in the state it reads.
func verifyFields(t *testing.T, where string, part map[string]any, states map[string]map[string]any) {
	t.Helper()
	for k, v := range part {
		stem, ok := strings.CutSuffix(k, "_template")
		if !ok {
			continue
		}
		topic, _ := part[map[string]string{"value": "state_topic"}[stem]].(string)
		if topic == "" {
			topic, _ = part[stem+"_topic"].(string)
		}
		if topic == "" {
			topic, _ = part["topic"].(string)
		}
		field := regexp.MustCompile(`value_json\.([a-z_]+)`).FindStringSubmatch(v.(string))[1]
		if _, ok := states[topic][field]; !ok {
			t.Errorf("%s: %s reads %s of %s, which has no such field", where, k, field, topic)
		}
	}
}

// hubOpts is an invented kitchen with a hub.
func hubOpts() Opts {
	return Opts{
		Prefix: "leavend/north", Version: "0.0.0-test", Discovery: true, PageURL: "http://kitchen.example:8080/",

		Vessels: []VesselInfo{{"bramble", "Bramble", "jar", true}, {"trough", "Trough", "bowl", false}},
		Mats:    []MatInfo{{"mat", "Mat", 20, 32}},
	}
}

func TestAnnouncements(t *testing.T) {
	c, err := New("mqtt://broker.example", hubOpts())
	if err != nil {
		t.Fatal(err)
	}
	states := make(map[string]map[string]any)
	for topic, payload := range map[string][]byte{
		"leavend/north/bramble/state": encode(bramble()), "leavend/north/trough/state": encode(bramble()),
		"leavend/north/mat/state": encode(warmMat()), "leavend/north/bramble/event": EventMessage(topEvent()),
		"leavend/north/trough/event": EventMessage(topEvent()), "leavend/north/mat/event": EventMessage(topEvent()),
		"leavend/north/state": encode(Daemon{At: Time{noon}}),
	} {
		var state map[string]any
		if err := json.Unmarshal(payload, &state); err != nil {
			t.Fatal(err)
		}
		states[topic] = state
	}
	unique := make(map[string]bool)
	var all bytes.Buffer
	for _, m := range c.hub.announcements() {
		verifyAnnouncement(t, m.topic, m.payload, states, unique)
		fmt.Fprintf(&all, "%s\n", m.topic)
		json.Indent(&all, m.payload, "", "  ")
		all.WriteByte('\n')
		if len(m.payload) > 8<<10 {
			t.Errorf("%s has %d bytes", m.topic, len(m.payload))
		}
	}
	verifyVia(t, c.hub.announcements())
	if len(unique) < 40 {
		t.Errorf("%d entities, want each of the vessels and the mat", len(unique))
	}
	golden.Compare(t, filepath.Join("testdata", "discovery.txt"), all.String())
}

// verifyVia wants each device but the daemon to hang on one that is announced.
func verifyVia(t *testing.T, all []message) {
	t.Helper()
	type device struct {
		IDs []string `json:"identifiers"`
		Via string   `json:"via_device"`
	}
	known, vias := map[string]bool{}, map[string]string{}
	for _, m := range all {
		var root struct{ Device device }
		if err := json.Unmarshal(m.payload, &root); err != nil {
			t.Fatal(err)
		}
		known[root.Device.IDs[0]] = true
		if root.Device.Via != "" {
			vias[root.Device.IDs[0]] = root.Device.Via
		}
	}
	for id := range known {
		if via := vias[id]; id != "leavend_north" && !known[via] {
			t.Errorf("%s hangs on %q, which nothing announces", id, via)
		}
	}
}

// A schema that lets everything pass proves nothing.
func TestSchemaRefuses(t *testing.T) {
	for _, tt := range []struct {
		name string
		s    shape
		o    map[string]any
	}{
		{"an unknown key", originShape, map[string]any{"name": "x", "object_id": "y"}},
		{"a missing key", availShape, map[string]any{"payload_available": "x"}},
		{"a wildcard", availShape, map[string]any{"topic": "a/#"}},
		{"a wrong mode", partShapes()["climate"], map[string]any{"platform": "climate", "unique_id": "x", "modes": []any{"warm"}}},
	} {
		probe := new(testing.T)
		tt.s.verify(probe, tt.name, tt.o)
		if !probe.Failed() {
			t.Errorf("the schema lets %s pass", tt.name)
		}
	}
}

func TestHubBirth(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{Prefix: "leavend/north"}, hubOpts())
	r, hub := read(t, b, "#")
	run(t, c.Run)
	c.Vessel(bramble())
	const topic = "homeassistant/device/leavend_north_bramble/config"
	eventually(t, "the device is announced", func() bool { return len(r.find(topic, "Bramble")) == 1 })
	eventually(t, "the state is sent", func() bool { return len(r.find("leavend/north/bramble/state", "rising")) == 1 })
	if err := hub.Command("homeassistant/status", "offline"); err != nil {
		t.Fatal(err)
	}
	if err := hub.Command("homeassistant/status", "online"); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the device is announced again", func() bool { return len(r.find(topic, "Bramble")) == 2 })
	eventually(t, "and its state", func() bool { return len(r.find("leavend/north/bramble/state", "rising")) == 2 })
}

func TestRemovedDevicesLeaveNoGhosts(t *testing.T) {
	m := newMosquitto(t)
	first := hubOpts()
	c := newClient(t, m.url(), first)
	stop := run(t, c.Run)
	v := bramble()
	c.Vessel(v)
	v.ID = "trough"
	c.Vessel(v)
	c.Mat(warmMat())
	eventually(t, "all is sent", func() bool { return c.Stats().Connected && c.Stats().StatesWaiting == 0 })
	other := hubOpts()
	other.Prefix = "leavend/south"
	neighbour := newClient(t, m.url(), other)
	run(t, neighbour.Run)
	eventually(t, "the neighbour is in", func() bool { return neighbour.Stats().Connected && neighbour.Stats().StatesWaiting == 0 })
	stop()

	kept := func() []string {
		l := listen(t, m.port, "-t", "homeassistant/#", "-t", "leavend/+/+/state", "-t", "leavend/+/+/available")
		var topics []string
		for _, line := range l.all("1 ") {
			if f := strings.Fields(line); len(f) > 1 && f[0] == "1" {
				topics = append(topics, f[1])
			}
		}
		slices.Sort(topics)
		return topics
	}
	south := []string{
		"homeassistant/device/leavend_south/config", "homeassistant/device/leavend_south_bramble/config", "homeassistant/device/leavend_south_mat/config",
		"homeassistant/device/leavend_south_trough/config", "homeassistant/time/leavend_south_bramble/ready_by/config",
	}

	second := hubOpts()
	second.Vessels = second.Vessels[:1] // the trough is sold
	c = newClient(t, m.url(), second)
	stop = run(t, c.Run)
	want := append([]string{
		"homeassistant/device/leavend_north/config", "homeassistant/device/leavend_north_bramble/config", "homeassistant/device/leavend_north_mat/config",
		"homeassistant/time/leavend_north_bramble/ready_by/config", "leavend/north/bramble/available", "leavend/north/bramble/state", "leavend/north/mat/state",
	}, south...)
	slices.Sort(want)
	eventually(t, "the trough is gone and nothing else", func() bool { return slices.Equal(kept(), want) })
	stop()

	third := hubOpts()
	third.Discovery = false // one line in the config
	run(t, newClient(t, m.url(), third).Run)
	eventually(t, "no device of ours is announced any more", func() bool {
		return !slices.ContainsFunc(kept(), func(s string) bool {
			return strings.HasPrefix(s, "homeassistant/") && strings.Contains(s, "leavend_north")
		})
	})
	if got := kept(); !slices.Contains(got, south[0]) {
		t.Errorf("the neighbour's devices are gone: %v", got)
	}
}
