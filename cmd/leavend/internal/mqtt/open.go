package mqtt

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
)

// OpenOpts are what Open needs beside the config.
type OpenOpts struct {
	Version string
	Command func(Command) error // obeys what is asked by topic; nil where none is taken
	Events  *event.Log          // what must reach the broker; nil for nothing
	Log     *slog.Logger
}

// Open makes the client that a config asks for, and the broker it speaks to
// where that is ours; both are nil without MQTT. Nothing is sent before they
// run, and the broker's ports for others are not open yet. Files that cannot be
// read keep neither from running: they are read again for each connection, and
// when a port opens.
func Open(ctx context.Context, conf *config.Config, o OpenOpts) (client *Client, broker *Broker, err error) {
	m := conf.MQTT
	if !m.On {
		return nil, nil, nil
	}
	opts := clientOpts(conf, o)
	address := m.URL
	opts.Login = func() (Login, error) { return ReadLogin(m) }
	if m.Embedded() {
		if broker, err = openBroker(conf, o.Log); err != nil {
			return nil, nil, err
		}
		own, login := broker.Login()
		address, opts.Login = own, func() (Login, error) { return login, nil }
	}
	if client, err = New(address, opts); err != nil {
		return nil, nil, err
	}
	if err := client.events.takeOver(ctx, filepath.Join(conf.DataDir, "mqtt-events.jsonl")); err != nil {
		o.Log.Error("the events that an earlier release did not send are still in its file", "err", err)
	}
	return client, broker, nil
}

// ReadLogin reads from files how another broker lets us in.
func ReadLogin(m config.MQTT) (Login, error) {
	password, err := m.Password.Reveal()
	if err != nil {
		return Login{}, fmt.Errorf("%w: mqtt.password: %w", errLogin, err)
	}
	trust, err := LoadTLS(m.CAFile, m.CertFile, m.KeyFile)
	if err != nil {
		return Login{}, fmt.Errorf("%w: %w", errLogin, err)
	}
	return Login{m.User, password, trust}, nil
}

// clientOpts are the settings of the client, but for its login.
func clientOpts(conf *config.Config, o OpenOpts) Opts {
	m := conf.MQTT
	opts := Opts{
		Prefix: m.Prefix, ClientID: m.ClientID, Version: o.Version, Command: o.Command, Log: o.Log,
		PageURL: conf.Web.PageAddress(), Discovery: m.Discovery, DiscoveryPrefix: m.DiscoveryPrefix, Events: o.Events,
	}
	for _, v := range conf.Vessels {
		opts.Vessels = append(opts.Vessels, VesselInfo{ID: v.Slug, Name: v.Name, Kind: string(v.Kind), Mat: conf.Mat.Heats() && conf.Mat.Vessel == v.Name})
	}
	if conf.Mat.Heats() {
		opts.Mats = []MatInfo{{ID: event.SubjectMat, Name: "Mat", MinC: conf.Mat.SetpointMinC, MaxC: conf.Mat.SetpointMaxC}}
	}
	return opts
}

// openBroker makes our own broker.
func openBroker(conf *config.Config, log *slog.Logger) (*Broker, error) {
	m := conf.MQTT
	o := BrokerOpts{Listen: m.Listen, ListenTLS: m.ListenTLS, Prefix: m.Prefix, Log: log}
	o.Guarded = []string{m.DiscoveryPrefix + "/device/+/config", m.DiscoveryPrefix + "/time/+/+/config"}
	if m.ListenTLS != "" {
		o.TLS = func() (*tls.Config, error) { return LoadTLS("", m.CertFile, m.KeyFile) }
	}
	if m.User != "" {
		o.Users = []User{{Name: m.User, Password: m.Password.Reveal}}
	}
	o.Open = []string{m.DiscoveryPrefix + "/status"}
	if err := guardPlug(conf, &o); err != nil {
		return nil, err
	}
	return NewBroker(o)
}

// guardPlug has the broker let no other client command the plug or speak for it.
func guardPlug(conf *config.Config, o *BrokerOpts) error {
	p := conf.Mat.Plug
	if conf.Mat.Output != config.Plug {
		return nil
	}
	recipe, err := heating.Recipe(p)
	if err != nil {
		return err
	}
	o.Plug = PlugAccess{User: p.User, CommandTopics: recipe.Obeys, StateTopics: recipe.Says, Bridge: recipe.Bridge}
	if p.User == "" {
		o.Plug.CommandTopics = append(o.Plug.CommandTopics, recipe.Groups...)
		return nil
	}
	o.Users = append(o.Users, User{Name: p.User, Password: p.Password.Reveal})
	return nil
}

// Plug is an output that listens to what its plug says.
type Plug interface {
	Topics() []string
	Heard(topic string, payload []byte, at time.Time)
}

// SubscribePlug brings what a plug says to its output.
func (c *Client) SubscribePlug(p Plug, now func() time.Time) error {
	var errs []error
	for _, t := range p.Topics() {
		errs = append(errs, c.Subscribe(t, ear(p, now)))
	}
	return errors.Join(errs...)
}

// ear hears a plug. What the broker kept of it is old news.
func ear(p Plug, now func() time.Time) func(Inbound) {
	return func(in Inbound) {
		if !in.Retained {
			p.Heard(in.Topic, in.Payload, now())
		}
	}
}
