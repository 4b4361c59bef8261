package mqtt_test

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/mqtt"
)

// A kitchen without a broker: ours serves, our client publishes a jar, and
// another client reads it.
func Example() {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	broker, err := mqtt.NewBroker(mqtt.BrokerOpts{Listen: "127.0.0.1:0"})
	if err == nil {
		err = broker.Open()
	}
	if err != nil {
		fmt.Println(err)
		return
	}
	go broker.Run(ctx)
	address, login := broker.Login()
	client, err := mqtt.New(address, mqtt.Opts{
		Login: func() (mqtt.Login, error) { return login, nil }, Vessels: []mqtt.VesselInfo{{ID: "bramble", Name: "Bramble", Kind: "jar"}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	go client.Run(ctx)
	client.Vessel(mqtt.Vessel{ID: "bramble", Stage: "rising", RiseRatio: new(1.8), Available: true})

	reader, err := mqtt.New("mqtt://"+broker.Address().String(), mqtt.Opts{Prefix: "reader"})
	if err != nil {
		fmt.Println(err)
		return
	}
	came := make(chan mqtt.Inbound, 8)
	if err := reader.Subscribe("leavend/bramble/available", func(in mqtt.Inbound) { came <- in }); err != nil {
		fmt.Println(err)
		return
	}
	go reader.Run(ctx)
	select {
	case in := <-came:
		fmt.Printf("%s %s\n", in.Topic, in.Payload)
	case <-time.After(time.Minute):
		fmt.Println("nothing came")
	}
	// Output: leavend/bramble/available online
}
