package daemon

import (
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

// setup is how the daemon's parts do, in a visitor's language.
func (d *Daemon) setup(language string) web.Setup {
	out := status{reader: d.Conf.Reader()}
	out.reader.Language = language
	for _, w := range d.sensing.channels {
		d.sensorStatus(w, &out)
	}
	for _, f := range d.Alarms.Active() {
		if f.Key.Reason == event.NoReading {
			continue
		}
		says := []text.Message{f.AlarmText.Say}
		if f.Detail != "" {
			says = append(says, text.Literal("("+f.Detail+")"))
		}
		out.add(groupOf(f.Key.Subject), text.Say("setup.group."+groupOf(f.Key.Subject)), "bad", text.Message{}, says...)
	}
	if d.client != nil {
		broker := text.Say("check.topic.mqtt")
		if st := d.client.Stats(); st.Connected {
			out.add("messages", broker, "ok", text.Message{}, text.Say("status.connected"))
		} else {
			out.add("messages", broker, "bad", text.Message{}, text.Say("status.not_connected", text.Name("why", st.Trouble)))
		}
	}
	for _, c := range d.messages.Channels() {
		name, waiting := text.Literal(c.Name), text.Number("waiting", float64(c.Waiting))
		if c.Trouble == "" {
			out.add("messages", name, "ok", text.Message{}, text.Say("status.sent", text.Number("n", float64(c.Sent)), waiting))
		} else {
			out.add("messages", name, "bad", text.Say("status.unsent_do"), text.Say("status.unsent", text.Name("why", c.Trouble), waiting))
		}
	}
	d.historyStatus(d.Store.Stats(), &out)
	return web.Setup{Version: version.Version, Started: d.started, Checks: out.checks}
}

// historyStatus says how the history does.
func (d *Daemon) historyStatus(st store.Stats, out *status) {
	size, free := historySize(d.Store.Path())
	says := []text.Message{text.Say("status.history", text.Size("size", uint64(size)), text.Size("free", uint64(free)), text.Count("n", st.Buffered))}
	state, do := "ok", text.Message{}
	if st.Unstorable > 0 {
		says = append(says, text.Say("check.history.unstorable", text.Count("n", st.Unstorable), text.Cause("why", st.Unstored)))
		state, do = "warn", text.Say("check.history.unstorable_do")
	}
	if st.BadRows > 0 {
		says = append(says, text.Say("check.history.bad_row", text.Name("last", st.BadRow.String())))
		state, do = "warn", text.Say("check.history.bad_rows_do")
	}
	out.add("storage", text.Literal(text.Capital(text.Say("check.topic.history").In(out.reader))), state, do, says...)
}

// groupOf is the group of checks that an alarm's subject belongs to.
func groupOf(subject string) string {
	switch subject {
	case event.SubjectMat:
		return "mat"
	case event.SubjectDaemon:
		return "storage"
	}
	return "sensors"
}

// status gathers how the daemon's parts do.
type status struct {
	reader text.Reader
	checks []web.Check
}

// add adds a part, with what is to be done about it.
func (s *status) add(group string, name text.Message, state string, do text.Message, says ...text.Message) {
	s.checks = append(s.checks, web.Check{Group: group, Name: name.In(s.reader), State: state,
		Says: text.Sentences(says...).In(s.reader), Do: do.In(s.reader)})
}

// sensorStatus says how a sensor does, and how much a ranger wanders, once a curve has
// shown it.
func (d *Daemon) sensorStatus(w hardware.Channel, out *status) {
	name := text.Literal(w.Sensor.Name)
	h, ok := d.Health.Of(w.Key())
	switch {
	case !ok:
		out.add("sensors", name, "warn", text.Message{}, text.Say("status.unread"))
		return
	case h.Failing > 0:
		out.add("sensors", name, "bad", text.Say("status.silent_do"), text.Say("status.silent", text.Cause("why", h.Err)))
		return
	}
	quantity := w.Quantity.String()
	says := []text.Message{text.Say("check.sensor.reads", text.Sub("quantity", text.Say("check.quantity."+quantity)), text.Sub("value", text.Say("status.value."+quantity, text.Number("v", h.Last.Value))))}
	if h.Failures > 0 {
		says = append(says, text.Say("status.failures", text.Number("n", float64(h.Failures))))
	}
	says, state, do := append(says, hardware.Averaging(w.Source)), "ok", text.Message{}
	for _, v := range d.Vessels {
		if curve := v.Curve(); v.Conf.Distance == w.Sensor.Name && w.Quantity == sensor.Distance && curve.Wanders() {
			var wander text.Message
			wander, do = hardware.Wander(curve)
			says, state = append(says, wander), "warn"
		}
	}
	out.add("sensors", name, state, do, says...)
}
