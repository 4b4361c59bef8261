package check

import (
	"context"
	"errors"
	"fmt"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
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
		case before.Failed(name), s.OnI2C() && before.Failed(fmt.Sprintf("i2c bus %d", s.Bus)), s.Chip == config.DS18B20 && before.Failed("1-wire"):
			continue
		case s.Chip == config.Topic:
			out = append(out, checkTopic(ctx, c, s))
			continue
		case s.Chip == config.Kitchen:
			out = append(out, Result{Topic: name, Level: Fail, Says: "it belongs to the simulated kitchen, which only 'leavend demo' has: leavend ends at once.", Do: "name a chip that this board has: leavend config explains each"})
			continue
		}
		wires, err := open(s)
		if err != nil {
			out = append(out, Result{Topic: name, Level: Fail, Says: fmt.Sprintf("it cannot be opened: %v.", err), Do: "check its settings: leavend config explains each"})
			continue
		}
		for _, w := range wires {
			out = append(out, checkReadings(ctx, w, c.Units == config.US))
		}
	}
	return out
}

// checkReadings reads one quantity of a sensor and says how it is. A ranger is
// read more often, for its noise decides how many readings are averaged.
func checkReadings(ctx context.Context, w hardware.Channel, us bool) Result {
	reads, from := checkReads, time.Now()
	if w.Quantity == sensor.Distance && hardware.IsRanger(w.Sensor) {
		reads = noise.Enough
	}
	values, errs := hardware.ReadSome(ctx, w.Source, reads)
	r := Readings(w.Sensor.Name, w.Quantity.String(), values, errs, us)
	if says := hardware.WouldAverageText(values, time.Since(from), us); says != "" {
		r.Says += " " + says
	}
	return r
}

// checkTopic waits for one number of a sensor elsewhere.
func checkTopic(ctx context.Context, c *config.Config, s config.Sensor) Result {
	r := Result{Topic: "sensor " + s.Name, Level: Note}
	if c.MQTT.Embedded() {
		r.Says = "its numbers come to the broker inside leavend, which does not run now."
		return r
	}
	value, err := oneMessage(ctx, c.MQTT, s)
	if err != nil {
		r.Level = Fail
		r.Says = fmt.Sprintf("no number came on %s within %s: %v.", s.Topic, text.Spell(hardware.MessageLimit), err)
		r.Do = fmt.Sprintf("see what comes: mosquitto_sub -v -t '%s'; field and scale must fit it", s.Topic)
		return r
	}
	return Readings(s.Name, s.Quantity.String(), []float64{value}, nil, c.Units == config.US)
}

// oneMessage subscribes as the daemon will and returns the first good number.
func oneMessage(ctx context.Context, m config.MQTT, s config.Sensor) (float64, error) {
	ctx, cancel := context.WithTimeout(ctx, hardware.MessageLimit)
	defer cancel()
	source, err := topic.New(s.Topic, topic.Opts{Quantity: s.Quantity, Field: s.Field, Scale: s.Scale, MaxAge: s.MaxAge})
	if err != nil {
		return 0, err
	}
	u, address, err := brokerAddress(m)
	if err != nil {
		return 0, err
	}
	client, err := enterBroker(ctx, m, u, address)
	if err != nil {
		return 0, err
	}
	defer client.Disconnect(50)
	heard := make(chan error, 1)
	token := client.Subscribe(s.Topic, 1, func(_ mqtt.Client, in mqtt.Message) {
		select {
		case heard <- source.Message(in.Payload(), time.Now(), in.Retained()):
		default: // one message is enough
		}
	})
	if err := await(ctx, token); err != nil {
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
