package daemon

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/web"
)

// teller tells the configured recipients what the hub tells. A nil teller has
// nobody to tell.
type teller struct {
	d    *Daemon
	n    *notify.Notifier
	away map[string]*absence // by vessel

	devices *notify.Devices // nil without browser push
	people  []notify.Recipient
	opts    notify.Opts
}

// absence follows how often a vessel was not where it should be.
type absence struct {
	count, run int // readings refused for it: in all, and one after the other
}

// openTeller makes the teller, unless the config names nobody. sender is nil
// but in tests.
func (d *Daemon) openTeller(ctx context.Context, sender func(address, key string) (notify.Sender, error)) error {
	devices := d.openDevices(ctx)
	people := Recipients(d.Conf)
	if devices != nil {
		people = browserRecipient(devices, people)
	}
	if len(people) == 0 {
		return nil
	}
	o := NotifyOpts(d.Conf)
	o.Now, o.Log, o.Link, o.Look = d.Clock.Now, d.Log, d.Conf.Web.PageAddress(), d.Clock.Real(10*time.Second)
	o.Open = func(address, key string) (notify.Sender, error) {
		switch {
		case address == notify.PushAddress:
			return devices, nil
		case sender != nil:
			return sender(address, key)
		}
		return notify.Open(address, key)
	}
	t := &teller{d: d, away: map[string]*absence{}, devices: devices, people: people, opts: o}
	o.Read = t.read
	var err error
	if t.n, err = notify.New(ctx, d.Events, d.Store, people, o); err != nil {
		return err
	}
	d.teller = t
	d.planTold()
	return nil
}

// NotifyOpts are the choices that the config makes.
func NotifyOpts(c *config.Config) notify.Opts {
	return notify.Opts{Words: notify.Words{Reader: c.Reader()}}
}

// Recipients are those of the config, as the notifier knows them.
func Recipients(c *config.Config) []notify.Recipient {
	var all []notify.Recipient
	for _, r := range c.Notify {
		out := notify.Recipient{
			Name: r.Name, QuietFrom: int(r.QuietFrom), QuietTo: int(r.QuietTo), HeadsUp: r.HeadsUp,
			RepeatEvery: r.RepeatEvery, Repeats: r.Repeats, MaxPerHour: r.MaxPerHour, QuietUpkeep: r.QuietUpkeep,
			Address: func() (address, key string, err error) {
				if address, err = r.URL.Reveal(); err == nil && r.Key.IsSet() {
					key, err = r.Key.Reveal()
				}
				return address, key, err
			},
		}
		for _, k := range r.Kinds {
			out.Kinds = append(out.Kinds, notify.Kind(k))
		}
		all = append(all, out)
	}
	return all
}

// eventOf begins an event as the notifier takes it.
func (t *teller) eventOf(kind event.Kind, slug string) (notify.Event, bool) {
	h := notify.Event{Vessel: slug, Name: t.name(slug)}
	if v := t.d.Vessel(slug); v != nil {
		h.Bowl = v.Conf.Kind == config.Bowl
		h.Bake = t.d.bakes(slug)
	}
	var ok bool
	h.What, ok = map[event.Kind]notify.What{
		event.Fed: notify.Fed, event.Peak: notify.Peaked, event.Target: notify.Risen, event.Falling: notify.Fell,
		event.Over: notify.GoesOver, event.Past: notify.PastBest,
		event.AlarmRaised: notify.AlarmRaised, event.AlarmCleared: notify.AlarmCleared,
	}[kind]
	return h, ok
}

// bakes reports whether a bake waits for the peak of a jar.
func (d *Daemon) bakes(slug string) bool { return d.plans != nil && d.plans.Baking(slug) }

// name is what the baker calls a subject.
func (t *teller) name(subject string) string {
	if v := t.d.Vessel(subject); v != nil {
		return v.Conf.Name
	}
	return map[string]string{event.SubjectMat: "the mat", event.SubjectDaemon: "the kitchen"}[subject]
}

// Hear takes what the hub tells of how vessels stand. Events the notifier takes
// from the log.
func (t *teller) Hear(it monitor.Item) {
	if it.Status != nil {
		t.look(*it.Status)
	}
}

// read turns an event of the log into one for the notifier; false where nobody is told.
func (t *teller) read(e event.Event) (notify.Event, bool) {
	h, ok := t.eventOf(e.Kind, e.Subject)
	if !ok {
		return h, false
	}
	h.At, h.For, h.RiseRatio, h.RiseMM = e.At, e.Detected.PeakAt, e.Detected.RiseRatio, e.Detected.RiseMM
	if e.Kind == event.Fed {
		h.For = time.Time{}
	}
	if e.Kind == event.AlarmRaised || e.Kind == event.AlarmCleared {
		if h.Fault, ok = faultNotice(e.Alarm); !ok {
			return h, false
		}
		h.Part, h.Text = string(e.Alarm.Reason)+"/"+e.Alarm.Part, e.Text
		h.Passes = e.Alarm.Reason == event.UnclearCurve
	}
	if _, chilled := t.d.Fridge.Since(e.Subject); chilled && (h.Passes || h.What == notify.Peaked || h.What == notify.Fell) {
		return h, false // there is no curve of a jar in the fridge
	}
	if _, used := t.d.UsedUp(e.Subject); used && (h.Passes || rises[h.What]) {
		return h, false // nothing rises there that anybody waits for
	}
	return h, true
}

// rises are the events of a rise, of which nobody is told once it was used.
var rises = map[notify.What]bool{notify.Peaked: true, notify.Fell: true, notify.Risen: true, notify.GoesOver: true, notify.PastBest: true}

// faultNotice says which kind of message a fault is; false for none. That the
// broker is away is for the page: a phone needs no broker.
func faultNotice(k event.AlarmKey) (notify.Kind, bool) {
	switch {
	case k.Reason == event.BrokerUnreached:
		return "", false
	case k.Reason == event.StorageFailing, k.Reason == event.PartMissing:
		return notify.Storage, true
	case k.Reason == event.NoReading, k.Reason == event.UnclearCurve:
		return notify.SensorFault, true
	}
	return notify.MatFault, k.Subject == event.SubjectMat
}

// tell hands an event on.
func (t *teller) tell(h notify.Event) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := t.n.Hear(ctx, h); err != nil {
		t.d.Log.Error("what is to be told could not be stored", "subject", h.Vessel, "err", err)
	}
}

// liftedFor is how many readings in a row must find a vessel away before
// somebody is believed to have come: one alone may be a glint.
const liftedFor = 3

// look takes in how a vessel looks: what is expected of it, and whether
// somebody has lifted it.
func (t *teller) look(s monitor.Sample) {
	a := t.away[s.Vessel]
	if a == nil {
		a = &absence{count: int(s.Seen.Status.Refused.Away)}
		t.away[s.Vessel] = a
	}
	if now := int(s.Seen.Status.Refused.Away); now > a.count {
		a.count, a.run = now, a.run+1
	} else {
		a.count, a.run = now, 0
	}
	if a.run == liftedFor {
		t.Came(s.Vessel)
	}
	outlook, ok := notify.OutlookOf(t.d.Vessel(s.Vessel).Status(t.d.Clock.Now()), t.d.bakes(s.Vessel))
	if !ok {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := t.n.Expect(ctx, outlook); err != nil {
		t.d.Log.Debug("what is to be told could not be stored", "err", err)
	}
}

// Came says that somebody was at a vessel or the mat.
func (t *teller) Came(subject string) {
	if t != nil {
		t.tell(notify.Event{What: notify.Came, Vessel: subject, At: t.d.Clock.Now()})
	}
}

// Run sends, and reminds, until ctx ends.
func (t *teller) Run(ctx context.Context) error {
	reminded := make(chan struct{})
	go func() {
		defer close(reminded)
		t.d.Clock.Every(ctx, 10*time.Minute, func(now time.Time) {
			for _, v := range t.d.Vessels {
				if err := t.remind(ctx, now, v); err != nil && ctx.Err() == nil {
					t.d.Log.Warn("the journal cannot be read for reminders", "vessel", v.Conf.Name, "err", err)
				}
			}
		})
	}()
	err := t.n.Run(ctx)
	<-reminded
	return err
}

// remind tells what the journal says is due of a vessel.
func (t *teller) remind(ctx context.Context, now time.Time, v *monitor.Vessel) error {
	d, err := t.d.Due(ctx, v, now)
	if err != nil {
		return err
	}
	for _, due := range d.Reminders {
		if h, ok := notify.DueOf(due, d, v.Conf); ok {
			h.At = now
			t.tell(h)
		}
	}
	return nil
}

// refresh puts into the metrics how each recipient stands.
func (t *teller) refresh(m *metrics.Metrics) {
	if t == nil {
		return
	}
	for name, s := range t.n.Stats() {
		if name == Browsers && !t.devices.Any() && s.Sent == 0 {
			continue // no browser ever asked
		}
		m.Notify(name, metrics.Notify{Waiting: s.Waiting, Sent: s.Sent, Failed: s.Failed})
	}
}

// checks say on the page how each recipient stands.
func (t *teller) checks() []web.Check {
	if t == nil {
		return nil
	}
	stats := t.n.Stats()
	var out []web.Check
	for _, r := range t.people {
		if r.Wanted != nil && !r.Wanted() {
			continue
		}
		s := stats[r.Name]
		c := web.Check{Group: "messages", Name: r.Name, State: "ok", Says: fmt.Sprintf("%d messages sent since the start; %d wait.", s.Sent, s.Waiting)}
		if s.Trouble != "" {
			c.State, c.Says, c.Do = "bad", fmt.Sprintf("The last message did not go out: %s; %d wait.", s.Trouble, s.Waiting), "Run 'leavend notify test'."
		}
		out = append(out, c)
	}
	return out
}
