# Plays a home hub: reads what a broker has retained, as a JSON object of topics,
# and prints each entity with what it shows. It fails where a value is not what
# its platform and device class take.
import datetime
import json
import sys

import jinja2

kept = json.load(sys.stdin)
jinja = jinja2.Environment(undefined=jinja2.StrictUndefined)
names = {}


def shown(part, topic_key="state_topic", template_key="value_template"):
    """What a template makes of the state at a topic."""
    return jinja.from_string(part[template_key]).render(value_json=kept[part[topic_key]])


def hold(platform, part):
    """The value as the hub keeps it; unknown where there is none."""
    if platform == "event" or platform == "button" or platform == "device_automation":
        return None
    if platform == "climate":
        assert shown(part, "mode_state_topic", "mode_state_template") in part["modes"]
        assert shown(part, "action_topic", "action_template") in ("off", "heating", "cooling", "drying", "idle", "fan")
        return float(shown(part, "temperature_state_topic", "temperature_state_template"))
    value = shown(part)
    if value == "None":
        return "unknown"
    if platform == "time":
        return datetime.time.fromisoformat(value).isoformat()
    if platform == "binary_sensor":
        assert value in (part["payload_on"], part["payload_off"]), value
        if "json_attributes_topic" in part:
            extra = json.loads(shown(part, "json_attributes_topic", "json_attributes_template"))
            return value + (f" {extra}" if extra["alarm"] else "")
        return value
    assert platform == "sensor", platform
    match part.get("device_class"):
        case "timestamp":
            at = datetime.datetime.fromisoformat(value.replace("Z", "+00:00"))
            assert at.tzinfo, value
            return at.isoformat()
        case "enum":
            assert value in part["options"], value
            return value
    if "unit_of_measurement" in part or "state_class" in part:
        return f"{float(value):g} {part.get('unit_of_measurement', '')}".strip()
    assert len(value) <= 255, "the hub keeps no longer text"
    return value


for topic, said in sorted(kept.items()):
    if not topic.startswith("homeassistant/"):
        continue
    kind = topic.split("/")[1]
    device = said["device"]
    names.setdefault(device["identifiers"][0], device.get("name"))
    parts = said["components"].items() if kind == "device" else [(None, {**said, "platform": kind})]
    for _, part in parts:
        value = hold(part["platform"], part)
        if value is not None:
            print(f"{names[device['identifiers'][0]]}: {part.get('name')} = {value}")
