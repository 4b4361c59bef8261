package cli

import (
	"context"
	"errors"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/text"
	"leavend/control/plug"
)

// dialPatience is how long a broker may take for one thing.
const dialPatience = 2 * time.Second

// plugOff tells the plug to be off until it says itself, in answer, that it is.
func plugOff(ctx context.Context, p heating.Plug) error {
	if p.Broker == "" {
		return text.Fail("cli.off.plug_broker_gone")
	}
	c, err := dialPlug(ctx, p)
	if err != nil {
		return text.Fail("cli.off.plug_broker_away", text.Cause("err", err))
	}
	defer c.Disconnect(50)
	recipe, known, err := p.Recipe()
	switch {
	case err != nil:
		return err
	case !known:
		return errors.Join(sendAll(ctx, c, p.Off), text.Fail("cli.off.plug_old"))
	}
	dev, err := plug.New(recipe, plugSender{ctx, c}, plug.Opts{EchoWithin: p.Echo})
	if err != nil {
		return err
	}
	for _, topic := range dev.Topics() {
		heard := func(_ paho.Client, m paho.Message) {
			if !m.Retained() { // what the broker has kept is no word of now
				dev.Heard(m.Topic(), m.Payload(), time.Now())
			}
		}
		if err := mqtt.Await(ctx, c.Subscribe(topic, 1, heard), dialPatience); err != nil {
			return text.Fail("cli.off.plug_unheard", text.Cause("err", err))
		}
	}
	if err := heating.OffConfirmed(ctx, dev, max(p.Echo, time.Second)); err != nil {
		return text.Fail("cli.off.plug_unsure", text.Cause("err", err))
	}
	return nil
}

// dialPlug connects to the plug's broker as the daemon does.
func dialPlug(ctx context.Context, p heating.Plug) (paho.Client, error) {
	trust, err := mqtt.LoadTLS(p.CAFile, p.CertFile, p.KeyFile)
	if err != nil {
		return nil, err
	}
	return mqtt.Enter(ctx, p.Broker, "leavend-mat-off", mqtt.Login{User: p.User, Password: p.Password, TLS: trust}, dialPatience)
}

// plugSender hands the plug's commands to the broker.
type plugSender struct {
	ctx context.Context
	c   paho.Client
}

func (s plugSender) Connected() bool { return s.c.IsConnectionOpen() }

// Command sends with the broker's word that it has the message (QoS 1), and
// never retained.
func (s plugSender) Command(topic, payload string) error {
	return mqtt.Await(s.ctx, s.c.Publish(topic, 1, false, payload), dialPatience)
}

func sendAll(ctx context.Context, c paho.Client, all []plug.Message) error {
	var errs []error
	for _, m := range all {
		errs = append(errs, plugSender{ctx, c}.Command(m.Topic, m.Payload))
	}
	return errors.Join(errs...)
}
