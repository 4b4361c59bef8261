package mqtt

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"leavend/cmd/leavend/internal/config"
)

// Enter connects to a broker for one thing beside the daemon's own connection,
// under an id of its own: with the daemon's it would throw that out.
func Enter(ctx context.Context, address, id string, login Login, patience time.Duration) (paho.Client, error) {
	u, err := config.BrokerURL(address)
	if err != nil {
		return nil, err
	}
	o := paho.NewClientOptions().AddBroker(u.String()).SetClientID(fmt.Sprintf("%s-%d", id, os.Getpid())).
		SetUsername(login.User).SetPassword(login.Password).SetConnectTimeout(patience).SetAutoReconnect(false)
	if login.TLS != nil {
		trust := login.TLS.Clone()
		trust.ServerName = u.Hostname()
		o.SetTLSConfig(trust)
	}
	c := paho.NewClient(o)
	if err := Await(ctx, c.Connect(), patience); err != nil {
		c.Disconnect(0)
		return nil, err
	}
	return c, nil
}

// Await waits for an act of the library.
func Await(ctx context.Context, t paho.Token, patience time.Duration) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(patience):
		return errors.New("the broker does not answer")
	}
}
