package leavendtest

import (
	"context"
	"crypto/tls"
	"testing"

	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/cmd/leavend/internal/mqtt"
)

// StartBroker runs a broker that is not the daemon's own until the test ends, and
// returns its address. It lets in the user baker with the password crumb; with a
// certificate, over TLS.
func StartBroker(t *testing.T, pair *tls.Certificate) (address string) {
	t.Helper()
	address = freeport.Address(t)
	o := mqtt.BrokerOpts{
		Listen: address, Prefix: "other",
		Users: []mqtt.User{{Name: "baker", Password: func() (string, error) { return "crumb", nil }}},
	}
	if pair != nil {
		o.Listen, o.ListenTLS = "off", address
		o.TLS = func() (*tls.Config, error) { return &tls.Config{Certificates: []tls.Certificate{*pair}}, nil }
	}
	b, err := mqtt.NewBroker(o)
	if err == nil {
		err = b.Open()
	}
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return address
}
