package monitor

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/sensor"
	"leavend/sensor/bus"
	"leavend/sensor/ntc"
	"leavend/sensor/topic"
)

// SensorAlarm says that a sensor gives no reading. Place is where a thermometer
// sits; needed says that the mat relies on it.
func SensorAlarm(c *config.Config, w hardware.Channel, place sensor.Place, needed bool, err error) event.AlarmText {
	who := sensorName(c, w, place)
	what, do := describeError(w.Quantity, err)
	a := event.AlarmText{
		Text:   fmt.Sprintf("%s %s. %s.", who, what, do),
		Detail: fmt.Sprintf("no %s from sensor %s: %v", w.Quantity, w.Sensor.Name, err),
		Over:   who + " answers again.",
	}
	if needed {
		a.Text += " The mat goes off until it answers."
	}
	return a
}

// sensorName is what the baker calls a sensor: by whom it serves.
func sensorName(c *config.Config, w hardware.Channel, place sensor.Place) string {
	for _, v := range c.Vessels {
		switch {
		case w.Quantity == sensor.Distance && v.Distance == w.Sensor.Name:
			return "The distance sensor over " + v.Name
		case w.Quantity == sensor.Temperature && v.Temperature == w.Sensor.Name:
			return "The thermometer of " + v.Name
		}
	}
	if w.Quantity == sensor.Temperature {
		switch place {
		case sensor.AtMat:
			return "The thermometer on the mat"
		case sensor.AtRoom:
			return "The thermometer in the room"
		}
	}
	return fmt.Sprintf("The sensor %q", w.Sensor.Name)
}

// describeError says what an error of a read means in a kitchen, and what to do
// about it.
func describeError(q sensor.Quantity, err error) (what, do string) {
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
		return "cannot be heard, for something blocks the wires it shares", "Unplug the sensors on those wires one by one, or take the board's power away for a moment"
	case is(topic.ErrNone, topic.ErrOld, topic.ErrRetained):
		return "has sent nothing new", "See that the device that sends it has power and reaches the network"
	case is(topic.ErrCoarse):
		return "tells its distance in steps of a centimetre, which is too coarse for a rise", "Have the device that sends it tell millimetres, or metres with three decimals"
	case is(fs.ErrPermission):
		return "may not be read by leavend", "Run 'leavend check', which says how to allow it"
	case is(bus.ErrOther):
		return "is of another kind than the config says", "Run 'leavend check', which says what is there"
	case is(bus.ErrNoise, bus.ErrStale):
		return "is hard to hear over its wires", "Shorten its cable, and keep it away from mains cables"
	case is(ntc.ErrOpen, ntc.ErrShort):
		return "is broken, or its plug is loose or wet", "Look at its plug and along its cable"
	case errors.As(err, &refused) && q == sensor.Distance:
		return "sees nothing that it can trust", "Wipe its glass, and see that nothing hangs in its way"
	case errors.As(err, &refused):
		return "gives values that cannot be right", "Look at its cable and its supply"
	case is(sensor.ErrHung, context.DeadlineExceeded):
		return "takes too long to answer", "Look at its cable; if that is sound, take the board's power away for a moment"
	case q == sensor.Distance && !is(bus.ErrNoAck):
		return "gives no distance", "Look at its cable, and wipe its glass"
	}
	return "does not answer", "Look at its cable and its plug"
}
