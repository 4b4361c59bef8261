package mqtt

import "strings"

// Discovery is the announcement that a home hub reads from one retained
// message for each device, by the hub's published device-based MQTT discovery.

// DefaultDiscoveryPrefix is where the hub listens unless it was told otherwise.
const DefaultDiscoveryPrefix = "homeassistant"

// expireAfter is how long the hub shows a number that nobody renews, in
// seconds. It is a guess: far longer than any sample period in use, far
// shorter than a rise.
const expireAfter = 900

// fields is a JSON object whose keys are the hub's.
type fields = map[string]any

// announcements returns the discovery message of each vessel and mat.
func (c *Client) announcements() []message {
	var all []message
	for _, v := range c.opts.Vessels {
		all = append(all, c.announce(v.ID, name(v.Name, v.ID), v.Kind, c.vesselParts(v)))
	}
	for _, m := range c.opts.Mats {
		all = append(all, c.announce(m.ID, name(m.Name, m.ID), "heat mat", c.matParts(m)))
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
func (c *Client) node(id string) string {
	return Slug(strings.ReplaceAll(c.opts.Prefix, "/", "_")) + "_" + id
}

// announceTopic is where the hub looks for a device.
func (c *Client) announceTopic(id string) string {
	return c.opts.DiscoveryPrefix + "/device/" + c.node(id) + "/config"
}

// announce makes the message of one device.
func (c *Client) announce(id, name, model string, parts fields) message {
	for key, p := range parts {
		part := p.(fields)
		if part["platform"] != "device_automation" {
			part["unique_id"] = c.node(id) + "_" + key
		}
	}
	device := fields{
		"identifiers": []string{c.node(id)}, "name": name, "manufacturer": "leavend", "model": model,
		"sw_version": c.opts.Version,
	}
	if c.opts.PageURL != "" {
		device["configuration_url"] = c.opts.PageURL
	}
	available := []fields{{"topic": c.topics.Status()}}
	if c.isVessel(id) {
		available = append(available, fields{"topic": c.topics.Available(id)})
	}
	return message{topic: c.announceTopic(id), retain: true, payload: encode(fields{
		"device": device, "origin": fields{"name": "leavend", "sw_version": c.opts.Version},
		"availability": available, "availability_mode": "all", "qos": 1, "components": parts,
	})}
}

func (c *Client) isVessel(id string) bool {
	for _, v := range c.opts.Vessels {
		if v.ID == id {
			return true
		}
	}
	return false
}

// vesselParts are the entities of a jar or bowl.
func (c *Client) vesselParts(v VesselInfo) fields {
	state := c.topics.State(v.ID)
	parts := fields{
		"height":      number(state, "height_mm", fields{"name": "Height", "device_class": "distance", "unit_of_measurement": "mm", "suggested_display_precision": 0}),
		"rise_ratio":  number(state, "rise_ratio", fields{"name": "Rise ratio", "suggested_display_precision": 2}),
		"temperature": number(state, "temperature_c", fields{"name": "Temperature", "device_class": "temperature", "unit_of_measurement": "°C", "suggested_display_precision": 1}),
		"stage":       value(state, "stage", fields{"platform": "sensor", "name": "Stage"}),
		"peak_at":     value(state, "peak_at", fields{"platform": "sensor", "name": "Top", "device_class": "timestamp"}),
		"fed_at":      value(state, "fed_at", fields{"platform": "sensor", "name": "Last fed", "device_class": "timestamp"}),
		"event":       c.eventPart(v.ID),
		"fed":         fields{"platform": "button", "name": "Fed now", "command_topic": c.topics.Set(v.ID, CommandFed), "payload_press": "PRESS"},
		"seen":        c.seenPart(v.ID),
	}
	if v.Mat {
		parts["ready_at"] = value(state, "ready_at", fields{"platform": "sensor", "name": "Wished ready", "device_class": "timestamp"})
	}
	if len(c.opts.Stages) > 0 {
		stage := parts["stage"].(fields)
		stage["device_class"], stage["options"] = "enum", c.opts.Stages
	}
	for _, kind := range []string{EventPeak, EventTarget, EventFault} {
		parts["on_"+kind] = c.trigger(v.ID, kind)
	}
	return parts
}

// matParts are the entities of a mat.
func (c *Client) matParts(m MatInfo) fields {
	state := c.topics.State(m.ID)
	return fields{
		"thermostat": fields{
			"platform": "climate", "name": nil, "modes": []string{ModeOff, ModeHeat},
			"mode_state_topic": state, "mode_state_template": template("mode"), "mode_command_topic": c.topics.Set(m.ID, CommandMode),
			"temperature_state_topic": state, "temperature_state_template": template("setpoint_c"),
			"temperature_command_topic": c.topics.Set(m.ID, CommandSetpoint),
			"current_temperature_topic": state, "current_temperature_template": template("temperature_c"),
			"action_topic": state, "action_template": template("action"),
			"min_temp": m.MinC, "max_temp": m.MaxC, "temp_step": 0.5, "precision": 0.1, "temperature_unit": "C",
		},
		"heating":     value(state, "on", fields{"platform": "binary_sensor", "name": "Heating", "device_class": "running", "payload_on": "on", "payload_off": "off"}),
		"cutoff":      value(state, "latched", fields{"platform": "binary_sensor", "name": "Cutoff", "device_class": "problem", "payload_on": "on", "payload_off": "off"}),
		"temperature": number(state, "mat_c", fields{"name": "Temperature", "device_class": "temperature", "unit_of_measurement": "°C", "suggested_display_precision": 1}),
		"reason":      value(state, "reason", fields{"platform": "sensor", "name": "Reason", "entity_category": "diagnostic"}),
		"event":       c.eventPart(m.ID),
		"seen":        c.seenPart(m.ID),
		"on_fault":    c.trigger(m.ID, EventFault),
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

func (c *Client) eventPart(id string) fields {
	return fields{
		"platform": "event", "name": "Event", "state_topic": c.topics.Event(id),
		"event_types": []string{EventFed, EventPeak, EventTarget, EventOver, EventPast, EventCollapse, EventFolded, EventFault, EventCleared, EventRefused},
	}
}

// seenPart is the button that ends what is said again.
func (c *Client) seenPart(id string) fields {
	return fields{"platform": "button", "name": "Message seen", "command_topic": c.topics.Set(id, CommandSeen), "payload_press": "PRESS"}
}

// trigger lets an automation start by itself when an event of one kind comes.
func (c *Client) trigger(id, kind string) fields {
	return fields{
		"platform": "device_automation", "automation_type": "trigger", "type": kind, "subtype": id,
		"topic": c.topics.Event(id), "payload": kind, "value_template": template("event_type"),
	}
}
