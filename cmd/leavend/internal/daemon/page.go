package daemon

import (
	"fmt"
	"net/http"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/setup"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
	"leavend/cmd/leavend/internal/web"
	"leavend/cmd/leavend/internal/web/backend"
	"leavend/sensor"
)

// openPage makes the page, unless the config wants none.
func (d *Daemon) openPage(p Parts) error {
	c := d.Conf.Web
	if !c.On {
		return nil
	}
	opts := web.Opts{
		Listen: c.Listen, OpenReading: c.OpenRead, Hosts: c.Hosts, DataDir: d.Conf.DataDir,
		SelfSigned: c.TLS == config.TLSSelfMade, Log: d.Log, Now: d.Clock.Now,
	}
	if d.messages != nil {
		opts.Open = map[string]http.Handler{notify.AckPath: d.messages.Notifier}
	}
	if c.TLS == config.TLSFiles {
		opts.CertFile, opts.KeyFile = c.CertFile, c.KeyFile
	}
	if p.Reload != nil && d.Conf.File != "" {
		board := setup.New(d.Monitor, d.heat.Accept, p.Reload)
		opts.Walk, opts.Reach, opts.Household, opts.Messages = board, board, board, board
	}
	if p.Restore != nil {
		opts.Restore = restore{d, p.Restore}
	}
	var err error
	var b web.Backend
	b, d.curves = d.backend()
	d.page, err = web.New(b, opts)
	return err
}

// backend is what stands behind the page.
func (d *Daemon) backend() (web.Backend, *backend.History) {
	messages := pageMessages{d.messages, d.Clock.Now}
	return backend.New(d.Monitor, d.plans, backend.Opts{
		Heat: d.heat, Ready: d.readyBy, Demo: d.given.Invented, InMemory: d.temporary != "", Came: d.messages.BakerPresent,
		Asks: messages.pendingAcks, Setup: d.setup, Push: messages, Reminders: messages,
	})
}

// setup is how the daemon's parts do.
func (d *Daemon) setup() web.Setup {
	s := web.Setup{Version: version.Version, Started: d.started, Checks: []web.Check{}}
	for _, w := range d.sensing.channels {
		c := web.Check{Group: "sensors", Name: w.Sensor.Name + ", " + w.Quantity.String(), State: "ok"}
		h, ok := d.Health.Of(w.Key())
		switch {
		case !ok:
			c.State, c.Says = "warn", "It has not been read yet."
		case h.Failing > 0:
			c.State, c.Says, c.Do = "bad", fmt.Sprintf("It does not answer: %v.", h.Err), "Look at its cable, then run 'leavend check'."
		default:
			c.Says = fmt.Sprintf("It reads %s.", withUnit(d.Conf, w.Quantity, h.Last.Value))
			if h.Failures > 0 {
				c.Says += fmt.Sprintf(" Tries that gave nothing since the start: %d.", h.Failures)
			}
			if says := hardware.Averaging(w.Source); !says.IsZero() {
				c.Says += " " + says.In(d.Conf.Reader())
			}
			d.addWander(w, &c)
		}
		s.Checks = append(s.Checks, c)
	}
	for _, f := range d.Alarms.Active() {
		if f.Key.Reason != event.NoReading {
			s.Checks = append(s.Checks, web.Check{Group: f.Key.Subject, Name: string(f.Key.Reason), State: "bad", Says: withDetail(f.AlarmText, d.Conf.Reader())})
		}
	}
	if d.client != nil {
		c := web.Check{Group: "messages", Name: "MQTT broker", State: "ok", Says: "Connected."}
		if st := d.client.Stats(); !st.Connected {
			c.State, c.Says = "bad", "Not connected: "+st.Trouble
		}
		s.Checks = append(s.Checks, c)
	}
	s.Checks = append(s.Checks, messageChecks(d.messages.Channels())...)
	s.Checks = append(s.Checks, d.historyCheck(d.Store.Stats()))
	return s
}

// historyCheck says how the history does.
func (d *Daemon) historyCheck(st store.Stats) web.Check {
	size, free := historySize(d.Store.Path())
	c := web.Check{Group: "storage", Name: "History", State: "ok",
		Says: fmt.Sprintf("%.1f MB kept, %.1f GB free; %d readings wait for the next write.", float64(size)/1e6, float64(free)/1e9, st.Buffered)}
	warn := func(says, do text.Message) {
		c.State, c.Says, c.Do = "warn", c.Says+" "+says.In(d.Conf.Reader()), do.In(d.Conf.Reader())
	}
	if st.Unstorable > 0 {
		warn(text.Say("check.history.unstorable", text.Count("n", st.Unstorable), text.Name("why", st.Unstored.Error())), text.Say("check.history.unstorable_do"))
	}
	if st.BadRows > 0 {
		warn(text.Say("check.history.bad_row", text.Name("last", st.BadRow.String())), text.Say("check.history.bad_rows_do"))
	}
	return c
}

// addWander adds how much a vessel's ranger wanders, once a curve has shown it.
func (d *Daemon) addWander(w hardware.Channel, c *web.Check) {
	for _, v := range d.Vessels {
		status := v.Curve()
		if v.Conf.Distance != w.Sensor.Name || w.Quantity != sensor.Distance || !status.Wanders() {
			continue
		}
		says, do := hardware.Wander(status)
		c.State, c.Says, c.Do = "warn", c.Says+" "+says.In(d.Conf.Reader()), do.In(d.Conf.Reader())
	}
}

// withUnit writes a reading in the baker's units.
func withUnit(c *config.Config, q sensor.Quantity, v float64) string {
	switch {
	case q == sensor.Temperature:
		return c.Degrees(v)
	case q == sensor.Distance && c.Units == config.US:
		return fmt.Sprintf("%.2f in", v/25.4)
	case q == sensor.Distance:
		return fmt.Sprintf("%.0f mm", v)
	}
	return fmt.Sprintf("%.1f", v)
}

// withDetail is a complaint with what only whoever mends it wants to know.
func withDetail(c event.AlarmText, r text.Reader) string {
	if c.Detail == "" {
		return c.Say.In(r)
	}
	return c.Say.In(r) + " (" + c.Detail + ")"
}
