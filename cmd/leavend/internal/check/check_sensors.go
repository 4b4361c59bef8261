package check

import (
	"context"
	"errors"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
	"leavend/sensor/noise"
	"leavend/sensor/topic"
)

// checkReads is how often a sensor is read; a ranger more often.
const checkReads = 5

// checkSensors reads each sensor a few times, as the daemon will. Those whose
// bus or whose chip is known to be amiss are left out: it has been said.
func checkSensors(ctx context.Context, c *config.Config, before *Report, open hardware.Opener) []Result {
	var out []Result
	for _, s := range c.Sensors {
		name := "sensor " + s.Name
		switch {
		case before.Failed(name), s.OnI2C() && before.Failed(onBus(s.Bus)), s.Chip == config.DS18B20 && before.Failed("1-wire"):
			continue
		case s.Chip == config.Topic:
			out = append(out, checkTopic(ctx, c, s))
			continue
		case s.Chip == config.Kitchen:
			out = append(out, fail(name, "check.sensor.toy"))
			continue
		}
		wires, err := open(s)
		if err != nil {
			out = append(out, fail(name, "check.sensor.unopened", text.Cause("err", err)))
			continue
		}
		for _, w := range wires {
			out = append(out, checkReadings(ctx, w))
		}
	}
	return out
}

// checkReadings reads one quantity of a sensor and says how it is. A ranger is
// read more often, for its noise decides how many readings are averaged.
func checkReadings(ctx context.Context, w hardware.Channel) Result {
	reads, from := checkReads, time.Now()
	if w.Quantity == sensor.Distance && hardware.IsRanger(w.Sensor) {
		reads = noise.Enough
	}
	values, errs := hardware.ReadSome(ctx, w.Source, reads)
	r := Readings(w.Sensor.Name, w.Quantity.String(), values, errs)
	r.Says = text.Sentences(r.Says, hardware.WouldAverage(values, time.Since(from)))
	return r
}

// checkTopic waits for one number of a sensor elsewhere.
func checkTopic(ctx context.Context, c *config.Config, s config.Sensor) Result {
	name := "sensor " + s.Name
	if c.MQTT.Embedded() {
		return note(name, "check.sensor.own_broker")
	}
	value, err := oneMessage(ctx, c.MQTT, s)
	if err != nil {
		return fail(name, "check.sensor.no_message", text.Name("topic", s.Topic), text.Duration("limit", hardware.MessageLimit), text.Cause("err", err))
	}
	return Readings(s.Name, s.Quantity.String(), []float64{value}, nil)
}

// oneMessage subscribes as the daemon will and returns the first good number.
func oneMessage(ctx context.Context, m config.MQTT, s config.Sensor) (float64, error) {
	ctx, cancel := context.WithTimeout(ctx, hardware.MessageLimit)
	defer cancel()
	source, err := topic.New(s.Topic, topic.Opts{Quantity: s.Quantity, Field: s.Field, Scale: s.Scale, MaxAge: s.MaxAge})
	if err != nil {
		return 0, err
	}
	client, err := enterBroker(ctx, m)
	if err != nil {
		return 0, err
	}
	defer client.Disconnect(50)
	heard := make(chan error, 1)
	token := client.Subscribe(s.Topic, 1, func(_ paho.Client, in paho.Message) {
		select {
		case heard <- source.Message(in.Payload(), time.Now(), in.Retained()):
		default: // one message is enough
		}
	})
	if err := mqtt.Await(ctx, token, brokerPatience); err != nil {
		return 0, err
	}
	select {
	case err = <-heard:
	case <-ctx.Done():
		err = errors.New("nothing came")
	}
	if err != nil {
		return 0, err
	}
	reading, err := source.Read(ctx)
	return reading.Value, err
}
