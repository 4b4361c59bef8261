package leavendtest

import (
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"leavend/control/plug/plugtest"
)

// ConnectPlug connects a fake plug to a broker that may not be there yet.
func ConnectPlug(t *testing.T, address string) *plugtest.Fake {
	t.Helper()
	fake := plugtest.New("tasmota", "mat", time.Now)
	o := mqtt.NewClientOptions().AddBroker("tcp://" + address).SetClientID("the-plug").
		SetConnectRetry(true).SetConnectRetryInterval(50 * time.Millisecond).SetOrderMatters(false)
	o.SetOnConnectHandler(func(c mqtt.Client) {
		c.Subscribe("cmnd/mat/#", 1, func(_ mqtt.Client, m mqtt.Message) { _ = fake.Command(m.Topic(), string(m.Payload())) })
	})
	client := mqtt.NewClient(o)
	fake.Tell(func(topic string, payload []byte, _ time.Time) { client.Publish(topic, 1, false, payload) })
	client.Connect()
	t.Cleanup(func() { client.Disconnect(50) })
	return fake
}
