package mqtt

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"sync"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
)

// DefaultDiscoveryPrefix is where the hub listens unless it was told otherwise.
const DefaultDiscoveryPrefix = "homeassistant"

// expireAfter is how long the hub shows a number that is not renewed, in
// seconds. It is a guess: far longer than any sample period in use, far
// shorter than a rise.
const expireAfter = 900

// fields is a JSON object whose keys are the hub's.
type fields = map[string]any

// discovery builds what a home hub reads of each device from one retained
// message, by the hub's published device-based MQTT discovery.
type discovery struct {
	topics Topics
	opts   Opts
}

// announcements returns the discovery messages of the daemon and of each vessel
// and mat.
func (d discovery) announcements() []message {
	all := []message{d.announce("", "leavend", "sourdough watcher", d.daemonParts())}
	for _, v := range d.opts.Vessels {
		all = append(all, d.announce(v.ID, cmp.Or(v.Name, v.ID), v.Kind, d.vesselParts(v)))
		if v.Mat {
			all = append(all, d.timeControl(v))
		}
	}
	for _, m := range d.opts.Mats {
		all = append(all, d.announce(m.ID, cmp.Or(m.Name, m.ID), "heat mat", d.matParts(m)))
	}
	return all
}

// notInNode are the characters that the hub does not allow in a node.
var notInNode = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[^a-z0-9_-]+`) })

// node is the name under which the hub knows a vessel or mat, or the daemon for
// "". The hub allows letters, digits, - and _ in it.
func (d discovery) node(id string) string {
	node := strings.Trim(notInNode().ReplaceAllString(strings.ToLower(strings.ReplaceAll(d.opts.Prefix, "/", "_")), "-"), "-")
	if id == "" {
		return node
	}
	return node + "_" + id
}

// announceTopic is where the hub looks for a device.
func (d discovery) announceTopic(id string) string {
	return d.opts.DiscoveryPrefix + "/device/" + d.node(id) + "/config"
}

// announce makes the message of one device.
func (d discovery) announce(id, name, model string, parts fields) message {
	for key, p := range parts {
		part := p.(fields)
		if part["platform"] != "device_automation" {
			part["unique_id"] = d.node(id) + "_" + key
		}
	}
	device := fields{
		"identifiers": []string{d.node(id)}, "name": name, "manufacturer": "leavend", "model": model,
		"sw_version": d.opts.Version,
	}
	if d.opts.PageURL != "" {
		device["configuration_url"] = d.opts.PageURL
	}
	if id != "" {
		device["via_device"] = d.node("")
	}
	return message{topic: d.announceTopic(id), retain: true, payload: encode(fields{
		"device": device, "origin": d.origin(),
		"availability": d.availability(id), "availability_mode": "all", "qos": 1, "components": parts,
	})}
}

// origin says which program announces.
func (d discovery) origin() fields { return fields{"name": "leavend", "sw_version": d.opts.Version} }

// availability says when a device is there: its daemon is, and a vessel's sensors
// answer.
func (d discovery) availability(id string) []fields {
	all := d.daemonAvailability()
	if d.isVessel(id) {
		all = append(all, fields{"topic": d.topics.Available(id)})
	}
	return all
}

// daemonAvailability is for what is known also while a vessel's sensors do not answer.
func (d discovery) daemonAvailability() []fields { return []fields{{"topic": d.topics.Status()}} }

// timeTopic is where the hub looks for the time control of a vessel.
func (d discovery) timeTopic(id string) string {
	return d.opts.DiscoveryPrefix + "/time/" + d.node(id) + "/ready_by/config"
}

// timeControl asks for the hour at which a vessel on a mat shall be ready. It has
// a message of its own: a hub that does not know time controls yet would refuse
// the whole device for it.
func (d discovery) timeControl(v VesselInfo) message {
	return message{topic: d.timeTopic(v.ID), retain: true, payload: encode(value(d.topics.State(v.ID), "ready_time", fields{
		"name": "Ready by", "unique_id": d.node(v.ID) + "_ready_by", "icon": "mdi:clock-check-outline",
		"command_topic": d.topics.Set(v.ID, CommandReady), "qos": 1,
		"availability": d.availability(v.ID), "availability_mode": "all",
		"device": fields{"identifiers": []string{d.node(v.ID)}}, "origin": d.origin(),
	}))}
}

func (d discovery) isVessel(id string) bool {
	return slices.ContainsFunc(d.opts.Vessels, func(v VesselInfo) bool { return v.ID == id })
}

// announced reports whether a topic is one on which we announce a device.
func (d discovery) announced(topic string) bool {
	vessels, mats := d.opts.ids()
	return d.opts.Discovery && (topic == d.announceTopic("") ||
		slices.ContainsFunc(append(vessels, mats...), func(id string) bool { return d.announceTopic(id) == topic }) ||
		slices.ContainsFunc(d.opts.Vessels, func(v VesselInfo) bool { return v.Mat && d.timeTopic(v.ID) == topic }))
}

// daemonParts are the entities of the daemon itself.
func (d discovery) daemonParts() fields {
	state := d.topics.Daemon()
	return fields{
		"next_step": value(state, "next_step", fields{"platform": "sensor", "name": "Next step", "icon": "mdi:format-list-checks"}),
		"next_at":   moment(state, "next_at", "Next step at", ""),
		"loaf_at":   moment(state, "loaf_at", "Bread ready", "mdi:bread-slice-outline"),
		"problem":   d.problemPart(state),
	}
}

// vesselParts are the entities of a jar or bowl.
func (d discovery) vesselParts(v VesselInfo) fields {
	state := d.topics.State(v.ID)
	moment := func(field, name, icon string) fields { return moment(state, field, name, icon) }
	ready := "Peak" // what is waited for
	if v.Kind != "jar" {
		ready = "Ready"
	}
	parts := fields{
		"height":      number(state, "height_mm", fields{"name": "Height", "device_class": "distance", "unit_of_measurement": "mm", "suggested_display_precision": 0}),
		"rise_ratio":  number(state, "rise_ratio", fields{"name": "Rise ratio", "suggested_display_precision": 2, "icon": "mdi:arrow-expand-vertical"}),
		"temperature": number(state, "temperature_c", fields{"name": "Temperature", "device_class": "temperature", "unit_of_measurement": "°C", "suggested_display_precision": 1}),
		"stage":       value(state, "stage", fields{"platform": "sensor", "name": "Stage", "device_class": "enum", "options": monitor.Stages(), "icon": "mdi:chart-bell-curve"}),
		"expected_at": moment("expected_at", ready+" expected", "mdi:clock-outline"),
		"peak_low":    moment("peak_low", ready+" at the earliest", "mdi:clock-start"),
		"peak_high":   moment("peak_high", ready+" at the latest", "mdi:clock-end"),
		"peak_at":     moment("called_at", ready+" at", "mdi:bell-outline"),
		"best_until":  moment("best_until", "Best until", "mdi:timer-sand"),
		"fed_at":      moment("fed_at", "Last fed", "mdi:history"),
		"event":       d.eventPart(v.ID, event.Fed, event.Peak, event.Target, event.Over, event.Past, event.Falling, event.Collapse, event.Folded, event.AlarmRaised, event.AlarmCleared, eventRefused),
		"fed":         d.buttonPart(v.ID, CommandFed, "PRESS", "Fed now", "mdi:silverware-spoon"),
		"seen":        d.seenPart(v.ID),
		"problem":     d.problemPart(state),
	}
	if v.Kind == "jar" {
		parts["feed_due_at"] = moment("feed_due_at", "Feed due", "mdi:calendar-clock")
	}
	if v.Mat {
		parts["ready_at"] = moment("ready_at", "Target time", "")
		parts["ready_off"] = d.buttonPart(v.ID, CommandReady, "off", "Clear target time", "mdi:clock-remove-outline")
	}
	for _, kind := range []event.Kind{event.Peak, event.Target, event.AlarmRaised} {
		parts["on_"+string(kind)] = d.trigger(v.ID, kind)
	}
	return parts
}

// matParts are the entities of a mat. The reason is a code: a sentence that
// counts down minutes would fill the hub's history.
func (d discovery) matParts(m MatInfo) fields {
	state := d.topics.State(m.ID)
	return fields{
		"thermostat": fields{
			"platform": "climate", "name": nil, "modes": []string{ModeOff, ModeHeat},
			"mode_state_topic": state, "mode_state_template": template("mode"), "mode_command_topic": d.topics.Set(m.ID, CommandMode),
			"temperature_state_topic": state, "temperature_state_template": template("setpoint_c"),
			"temperature_command_topic": d.topics.Set(m.ID, CommandSetpoint),
			"current_temperature_topic": state, "current_temperature_template": template("temperature_c"),
			"action_topic": state, "action_template": template("action"),
			"min_temp": m.MinC, "max_temp": m.MaxC, "temp_step": 0.5, "precision": 0.1, "temperature_unit": "C",
		},
		"heating":     value(state, "on", fields{"platform": "binary_sensor", "name": "Heating", "device_class": "running", "payload_on": "on", "payload_off": "off"}),
		"cutoff":      value(state, "latched", fields{"platform": "binary_sensor", "name": "Cutoff", "device_class": "problem", "payload_on": "on", "payload_off": "off"}),
		"temperature": number(state, "mat_c", fields{"name": "Temperature", "device_class": "temperature", "unit_of_measurement": "°C", "suggested_display_precision": 1}),
		"reason":      value(state, "reason_code", fields{"platform": "sensor", "name": "Reason", "device_class": "enum", "options": control.Reasons(), "entity_category": "diagnostic", "icon": "mdi:help-circle-outline"}),
		"energy":      counter(state, "energy_kwh", fields{"name": "Energy", "device_class": "energy", "unit_of_measurement": "kWh", "suggested_display_precision": 2}),
		"switches":    counter(state, "switches", fields{"name": "Switch count", "entity_category": "diagnostic", "suggested_display_precision": 0, "icon": "mdi:counter"}),
		"event":       d.eventPart(m.ID, event.AlarmRaised, event.AlarmCleared, eventRefused),
		"seen":        d.seenPart(m.ID),
		"on_fault":    d.trigger(m.ID, event.AlarmRaised),
		"problem":     d.problemPart(state),
	}
}

// problemPart is on while something is wrong, and says what; also while the
// sensors do not answer, which is when it is needed.
func (d discovery) problemPart(state string) fields {
	return value(state, "problem", fields{
		"platform": "binary_sensor", "name": "Problem", "device_class": "problem", "payload_on": "on", "payload_off": "off",
		"availability": d.daemonAvailability(), "json_attributes_topic": state, "json_attributes_template": "{{ {'alarm': value_json.alarm} | tojson }}",
	})
}

// moment is a sensor that shows a time.
func moment(state, field, name, icon string) fields {
	f := fields{"platform": "sensor", "name": name, "device_class": "timestamp"}
	if icon != "" {
		f["icon"] = icon
	}
	return value(state, field, f)
}

// counter is a sensor of what only grows, or begins at nothing again.
func counter(state, field string, f fields) fields {
	f["platform"], f["state_class"] = "sensor", "total_increasing"
	return value(state, field, f)
}

// template picks one field of a state.
func template(field string) string { return "{{ value_json." + field + " }}" }

// value is an entity that shows one field of a state.
func value(state, field string, f fields) fields {
	f["state_topic"], f["value_template"] = state, template(field)
	return f
}

// number is a sensor that is drawn as a curve and grows old.
func number(state, field string, f fields) fields {
	f["platform"], f["state_class"], f["expire_after"] = "sensor", "measurement", expireAfter
	return value(state, field, f)
}

// eventPart shows what happens, as far as it can happen there.
func (d discovery) eventPart(id string, kinds ...event.Kind) fields {
	return fields{"platform": "event", "name": "Event", "state_topic": d.topics.Event(id), "event_types": kinds, "icon": "mdi:message-flash-outline"}
}

// buttonPart asks for something at a press.
func (d discovery) buttonPart(id string, kind CommandKind, press, name, icon string) fields {
	return fields{"platform": "button", "name": name, "command_topic": d.topics.Set(id, kind), "payload_press": press, "icon": icon}
}

// seenPart is the button that ends what is said again.
func (d discovery) seenPart(id string) fields {
	return d.buttonPart(id, CommandSeen, "PRESS", "Message seen", "mdi:check-all")
}

// trigger lets an automation start by itself when an event of one kind comes.
func (d discovery) trigger(id string, kind event.Kind) fields {
	return fields{
		"platform": "device_automation", "automation_type": "trigger", "type": kind, "subtype": id,
		"topic": d.topics.Event(id), "payload": kind, "value_template": template("event_type"),
	}
}
