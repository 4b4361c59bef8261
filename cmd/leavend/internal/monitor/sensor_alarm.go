package monitor

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
	"leavend/sensor/bus"
	"leavend/sensor/ntc"
	"leavend/sensor/topic"
)

// SensorAlarm says that a sensor gives no reading. Place is where a thermometer
// sits; needed says that the mat relies on it.
func SensorAlarm(c *config.Config, w hardware.Channel, place sensor.Place, needed bool, err error) event.AlarmText {
	who := text.Sub("who", sensorName(c, w, place))
	var mat text.Message
	if needed {
		mat = text.Say("alarm.sensor.mat_waits")
	}
	return event.AlarmText{
		Say:    text.Sentences(text.Say(inPlainWords(w.Quantity, err), who), mat),
		Detail: fmt.Sprintf("no %s from sensor %s: %v", w.Quantity, w.Sensor.Name, err),
		Over:   text.Say("alarm.sensor.over", who),
	}
}

// sensorName is what the baker calls a sensor: by whom it serves.
func sensorName(c *config.Config, w hardware.Channel, place sensor.Place) text.Message {
	for _, v := range c.Vessels {
		switch {
		case w.Quantity == sensor.Distance && v.Distance == w.Sensor.Name:
			return text.Say("alarm.who.distance", text.Name("name", v.Name))
		case w.Quantity == sensor.Temperature && v.Temperature == w.Sensor.Name:
			return text.Say("alarm.who.vessel", text.Name("name", v.Name))
		}
	}
	if w.Quantity == sensor.Temperature {
		switch place {
		case sensor.AtMat:
			return text.Say("alarm.who.mat")
		case sensor.AtRoom:
			return text.Say("alarm.who.room")
		}
	}
	return text.Say("alarm.who.sensor", text.Name("name", w.Sensor.Name))
}

// inPlainWords is the sentence that says what an error of a read means in a
// kitchen, and what to do about it.
func inPlainWords(q sensor.Quantity, err error) string {
	var refused *sensor.Refused
	is := func(any ...error) bool {
		for _, e := range any {
			if errors.Is(err, e) {
				return true
			}
		}
		return false
	}
	switch {
	case is(bus.ErrStuck):
		return "alarm.sensor.blocked"
	case is(topic.ErrNone, topic.ErrOld, topic.ErrRetained):
		return "alarm.sensor.nothing_new"
	case is(topic.ErrCoarse):
		return "alarm.sensor.coarse"
	case is(fs.ErrPermission):
		return "alarm.sensor.rights"
	case is(bus.ErrOther):
		return "alarm.sensor.other_kind"
	case is(bus.ErrNoise, bus.ErrStale):
		return "alarm.sensor.noisy"
	case is(ntc.ErrOpen, ntc.ErrShort):
		return "alarm.sensor.broken"
	case errors.As(err, &refused) && q == sensor.Distance:
		return "alarm.sensor.sees_nothing"
	case errors.As(err, &refused):
		return "alarm.sensor.impossible"
	case is(sensor.ErrHung, context.DeadlineExceeded):
		return "alarm.sensor.slow"
	case q == sensor.Distance && !is(bus.ErrNoAck):
		return "alarm.sensor.no_distance"
	}
	return "alarm.sensor.silent"
}
