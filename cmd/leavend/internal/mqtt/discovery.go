package mqtt

import (
	"slices"
	"strings"
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

// announcements returns the discovery message of each vessel and mat.
func (d discovery) announcements() []message {
	var all []message
	for _, v := range d.opts.Vessels {
		all = append(all, d.announce(v.ID, name(v.Name, v.ID), v.Kind, d.vesselParts(v)))
	}
	for _, m := range d.opts.Mats {
		all = append(all, d.announce(m.ID, name(m.Name, m.ID), "heat mat", d.matParts(m)))
	}
	return all
}

func name(name, id string) string {
	if name == "" {
		return id
	}
	return name
}

// node is the name under which the hub knows a vessel or mat. The hub allows
// letters, digits, - and _ in it.
func (d discovery) node(id string) string {
	return Slug(strings.ReplaceAll(d.opts.Prefix, "/", "_")) + "_" + id
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
	available := []fields{{"topic": d.topics.Status()}}
	if d.isVessel(id) {
		available = append(available, fields{"topic": d.topics.Available(id)})
	}
	return message{topic: d.announceTopic(id), retain: true, payload: encode(fields{
		"device": device, "origin": fields{"name": "leavend", "sw_version": d.opts.Version},
		"availability": available, "availability_mode": "all", "qos": 1, "components": parts,
	})}
}

func (d discovery) isVessel(id string) bool {
	return slices.ContainsFunc(d.opts.Vessels, func(v VesselInfo) bool { return v.ID == id })
}

// announced reports whether a topic is one on which we announce a device.
func (d discovery) announced(topic string) bool {
	vessels, mats := d.opts.ids()
	return d.opts.Discovery && slices.ContainsFunc(append(vessels, mats...), func(id string) bool { return d.announceTopic(id) == topic })
}

// vesselParts are the entities of a jar or bowl.
func (d discovery) vesselParts(v VesselInfo) fields {
	state := d.topics.State(v.ID)
	parts := fields{
		"height":      number(state, "height_mm", fields{"name": "Height", "device_class": "distance", "unit_of_measurement": "mm", "suggested_display_precision": 0}),
		"rise_ratio":  number(state, "rise_ratio", fields{"name": "Rise ratio", "suggested_display_precision": 2}),
		"temperature": number(state, "temperature_c", fields{"name": "Temperature", "device_class": "temperature", "unit_of_measurement": "°C", "suggested_display_precision": 1}),
		"stage":       value(state, "stage", fields{"platform": "sensor", "name": "Stage"}),
		"peak_at":     value(state, "peak_at", fields{"platform": "sensor", "name": "Peak", "device_class": "timestamp"}),
		"fed_at":      value(state, "fed_at", fields{"platform": "sensor", "name": "Last fed", "device_class": "timestamp"}),
		"event":       d.eventPart(v.ID),
		"fed":         fields{"platform": "button", "name": "Fed now", "command_topic": d.topics.Set(v.ID, CommandFed), "payload_press": "PRESS"},
		"seen":        d.seenPart(v.ID),
	}
	if v.Mat {
		parts["ready_at"] = value(state, "ready_at", fields{"platform": "sensor", "name": "Wished ready", "device_class": "timestamp"})
	}
	if len(d.opts.Stages) > 0 {
		stage := parts["stage"].(fields)
		stage["device_class"], stage["options"] = "enum", d.opts.Stages
	}
	for _, kind := range []string{EventPeak, EventTarget, EventFault} {
		parts["on_"+kind] = d.trigger(v.ID, kind)
	}
	return parts
}

// matParts are the entities of a mat.
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
		"reason":      value(state, "reason", fields{"platform": "sensor", "name": "Reason", "entity_category": "diagnostic"}),
		"event":       d.eventPart(m.ID),
		"seen":        d.seenPart(m.ID),
		"on_fault":    d.trigger(m.ID, EventFault),
	}
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

func (d discovery) eventPart(id string) fields {
	return fields{
		"platform": "event", "name": "Event", "state_topic": d.topics.Event(id),
		"event_types": []string{EventFed, EventPeak, EventTarget, EventOver, EventPast, EventFalling, EventCollapse, EventFolded, EventFault, EventCleared, EventRefused},
	}
}

// seenPart is the button that ends what is said again.
func (d discovery) seenPart(id string) fields {
	return fields{"platform": "button", "name": "Message seen", "command_topic": d.topics.Set(id, CommandSeen), "payload_press": "PRESS"}
}

// trigger lets an automation start by itself when an event of one kind comes.
func (d discovery) trigger(id, kind string) fields {
	return fields{
		"platform": "device_automation", "automation_type": "trigger", "type": kind, "subtype": id,
		"topic": d.topics.Event(id), "payload": kind, "value_template": template("event_type"),
	}
}
