package notify

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/readyby"
)

// Dispatcher turns what happens to vessels, mats and plans into messages: it reads
// the event log, follows what each vessel's status foretells, and reminds of what the
// journal says is due. A nil Dispatcher has no recipient.
type Dispatcher struct {
	Notifier *Notifier
	Devices  *Devices // the browsers that want to be sent messages; nil without browser push

	m      *monitor.Monitor
	with   DispatcherOpts
	people []Recipient
	opts   Opts
	away   map[string]*lifted              // by vessel
	where  map[string]*monitor.Whereabouts // by vessel
}

// lifted follows how often a vessel was not where it should be.
type lifted struct {
	count, run int // readings refused for it: in all, and one after the other
}

// DispatcherOpts are what a Dispatcher needs beside the monitor.
type DispatcherOpts struct {
	Awaits func(slug string) (planning.Step, bool)   // whether a bake waits for a vessel, and the step that follows
	Chills func(slug string) bool                    // whether a plan counts on a jar in the fridge
	Sender func(address, key string) (Sender, error) // in place of the network; nil but in tests
}

// OpenDispatcher opens the way to the recipients of the config; nil where there is
// none.
func OpenDispatcher(ctx context.Context, m *monitor.Monitor, with DispatcherOpts) (*Dispatcher, error) {
	devices := openDevices(ctx, m)
	people := Recipients(m.Conf)
	if devices != nil {
		people = browserRecipient(devices, people)
	}
	if len(people) == 0 {
		return nil, nil
	}
	o := OptsOf(m.Conf)
	o.Now, o.Log, o.Link, o.Look = m.Clock.Now, m.Log, m.Conf.Web.PageAddress(), m.Clock.Real(10*time.Second)
	o.Open = func(address, key string) (Sender, error) {
		switch {
		case address == PushAddress:
			return devices, nil
		case with.Sender != nil:
			return with.Sender(address, key)
		}
		return Open(address, key)
	}
	t := &Dispatcher{m: m, with: with, away: map[string]*lifted{}, where: map[string]*monitor.Whereabouts{}, Devices: devices, people: people, opts: o}
	o.Read = t.eventFromLog
	var err error
	t.Notifier, err = New(ctx, m.Events, m.Store.States, people, o)
	return t, err
}

// eventOf begins an event as the notifier takes it.
func (t *Dispatcher) eventOf(kind event.Kind, slug string) (Event, bool) {
	h := Event{Vessel: slug, Name: t.name(slug)}
	if v := t.m.Vessel(slug); v != nil {
		h.Bowl = v.Conf.Kind == config.Bowl
		_, h.Bake = t.with.Awaits(slug)
	}
	var ok bool
	h.Kind, ok = map[event.Kind]EventKind{
		event.Fed: Fed, event.Peak: Peaked, event.Target: Risen, event.Falling: Fell,
		event.Over: GoesOver, event.Past: PastBest,
		event.AlarmRaised: AlarmRaised, event.AlarmCleared: AlarmCleared,
	}[kind]
	return h, ok
}

// name is what the baker calls a subject.
func (t *Dispatcher) name(subject string) string {
	if v := t.m.Vessel(subject); v != nil {
		return v.Conf.Name
	}
	return map[string]string{event.SubjectMat: "the mat", event.SubjectDaemon: "the kitchen"}[subject]
}

// Observe takes what the hub tells of how vessels stand. Events the notifier takes
// from the log.
func (t *Dispatcher) Observe(it monitor.Item) {
	if it.Status != nil {
		t.observe(*it.Status)
	}
}

// eventFromLog turns an event of the log into one for the notifier; false where no message follows.
func (t *Dispatcher) eventFromLog(e event.Event) (Event, bool) {
	h, ok := t.eventOf(e.Kind, e.Subject)
	if !ok {
		return h, false
	}
	h.At, h.For, h.RiseRatio, h.RiseMM = e.At, e.Detected.PeakAt, e.Detected.RiseRatio, e.Detected.RiseMM
	if e.Kind == event.Fed {
		h.For = time.Time{}
	}
	if step, ok := t.with.Awaits(e.Subject); ok && (h.Kind == Peaked || h.Kind == Risen) {
		h.Step, h.Text, h.Until = step.Name, step.Say.In(t.m.Conf.Reader()), step.Latest
	}
	if e.Kind == event.AlarmRaised || e.Kind == event.AlarmCleared {
		if h.Fault, ok = faultNotice(e.Alarm); !ok {
			return h, false
		}
		h.Part, h.Text = string(e.Alarm.Reason)+"/"+e.Alarm.Part, e.Text
		h.Passes = e.Alarm.Reason == event.UnclearCurve
	}
	if _, chilled := t.m.Fridge.Since(e.Subject); chilled && (h.Passes || h.Kind == Peaked || h.Kind == Fell) {
		return h, false // there is no curve of a jar in the fridge
	}
	if v := t.m.Vessel(e.Subject); v != nil && (h.Passes || rises[h.Kind]) && t.m.Uses.Has(e.Subject, v.Curve().FedAt) {
		return h, false // nothing rises there that anybody waits for
	}
	return h, true
}

// rises are the events of a rise, which send no message once it was used.
var rises = map[EventKind]bool{Peaked: true, Fell: true, Risen: true, GoesOver: true, PastBest: true}

// faultNotice says which kind of message a fault is; false for none. That the
// broker is away is for the page: a phone needs no broker.
func faultNotice(k event.AlarmKey) (Kind, bool) {
	switch {
	case k.Reason == event.BrokerUnreached:
		return "", false
	case k.Reason == event.StorageFailing, k.Reason == event.PartMissing:
		return Storage, true
	case k.Reason == event.NoReading, k.Reason == event.UnclearCurve:
		return SensorFault, true
	case k == heating.AlarmCautions:
		return MatFault, true // whoever switched it off by hand knows; that it waits for its cautions, perhaps no one
	}
	return MatFault, k.Subject == event.SubjectMat
}

// Notify hands an event on.
func (t *Dispatcher) Notify(h Event) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := t.Notifier.Handle(ctx, h); err != nil {
		t.m.Log.Error("what is to be told could not be stored", "subject", h.Vessel, "err", err)
	}
}

// liftedFor is how many readings in a row must find a vessel away before
// somebody is believed to have come: one alone may be a glint.
const liftedFor = 3

// observe takes in how a vessel looks: what is expected of it, and whether
// somebody has lifted it.
func (t *Dispatcher) observe(s monitor.Sample) {
	a := t.away[s.Vessel]
	if a == nil {
		a = &lifted{count: s.Away}
		t.away[s.Vessel] = a
	}
	if now := s.Away; now > a.count {
		a.count, a.run = now, a.run+1
	} else {
		a.count, a.run = now, 0
	}
	if a.run == liftedFor {
		t.BakerPresent(s.Vessel)
	}
	_, bakes := t.with.Awaits(s.Vessel)
	status := t.m.Vessel(s.Vessel).Status(t.m.Clock.Now())
	t.warn(status, s.DistanceMM)
	outlook, ok := OutlookOf(status, bakes)
	if !ok {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := t.Notifier.Expect(ctx, outlook); err != nil {
		t.m.Log.Debug("what is to be told could not be stored", "err", err)
	}
}

// BakerPresent says that somebody was at a vessel or the mat.
func (t *Dispatcher) BakerPresent(subject string) {
	if t != nil {
		t.Notify(Event{Kind: BakerPresent, Vessel: subject, At: t.m.Clock.Now()})
	}
}

// Run sends, and reminds, until ctx ends.
func (t *Dispatcher) Run(ctx context.Context) error {
	reminded := make(chan struct{})
	go func() {
		defer close(reminded)
		t.m.Clock.Every(ctx, 10*time.Minute, func(now time.Time) {
			for _, v := range t.m.Vessels {
				if err := t.Remind(ctx, now, v); err != nil && ctx.Err() == nil {
					t.m.Log.Warn("the journal cannot be read for reminders", "vessel", v.Conf.Name, "err", err)
				}
			}
		})
	}()
	err := t.Notifier.Run(ctx)
	<-reminded
	return err
}

// Remind tells what the journal says is due of a vessel.
func (t *Dispatcher) Remind(ctx context.Context, now time.Time, v *monitor.Vessel) error {
	d, err := t.m.Due(ctx, v, now)
	if err != nil {
		return err
	}
	if _, away := t.m.Rules().AwayAt(now); away {
		return nil
	}
	if away, home := t.m.Rules().HomeFrom(now); home && !d.LastFed.IsZero() && d.LastFed.Before(away.Until) {
		t.Notify(Event{
			Kind: BackHome, Vessel: v.Conf.Slug, Name: v.Conf.Name, At: now, For: d.LastFed, Part: away.Until.Format(time.DateOnly), Count: feedmath.WakingFeeds(now.Sub(d.LastFed)),
		})
	}
	for _, due := range d.Reminders {
		if h, ok := DueOf(due, d, v.Conf, now); ok {
			t.Notify(h)
		}
	}
	return nil
}

// SwitchWorn tells that the mat's switch comes near the end of its life.
func (t *Dispatcher) SwitchWorn(switches, life, times int) {
	t.Notify(Event{
		Kind: SwitchWorn, Vessel: event.SubjectMat, Name: "Heat mat", At: t.m.Clock.Now(), For: time.Unix(int64(life)*int64(times), 0), Count: switches, Life: life,
	})
}

// StepDue tells that a step of the chosen plan is due.
func (t *Dispatcher) StepDue(vessel, jar string, s planning.Step, now time.Time) {
	t.Notify(t.stepOf(vessel, jar, s, now))
}

func (t *Dispatcher) stepOf(vessel, jar string, s planning.Step, now time.Time) Event {
	return Event{Kind: StepDue, Vessel: vessel, Name: jar, At: now, For: s.At, Until: s.Latest, Part: s.Name, Text: s.Say.In(t.m.Conf.Reader())}
}

// StepAhead tells of a step of the chosen plan the evening before.
func (t *Dispatcher) StepAhead(vessel, jar string, s planning.Step, now time.Time) {
	h := t.stepOf(vessel, jar, s, now)
	h.Kind = StepAhead
	t.Notify(h)
}

// StepOver tells that a step is done or no longer planned.
func (t *Dispatcher) StepOver(step string, now time.Time) {
	t.Notify(Event{Kind: StepOver, Part: step, At: now})
}

// PlanFails tells that the plan cannot be met.
func (t *Dispatcher) PlanFails(vessel, jar string, why text.Message, now time.Time) {
	t.Notify(Event{Kind: PlanFails, Vessel: vessel, Name: jar, At: now, Text: why.In(t.m.Conf.Reader())})
}

// ReadyByMissed tells that a vessel will not be ready at the time that was asked for.
func (t *Dispatcher) ReadyByMissed(now time.Time, v *monitor.Vessel, a readyby.Advice) {
	t.Notify(Event{Kind: ReadyByFails, Vessel: v.Conf.Slug, Name: v.Conf.Name, At: now, For: a.ReadyBy, Text: planning.Missed(a).In(t.m.Conf.Reader())})
}

// Try sends a test message to every browser, and says what kept it from one.
func (t *Dispatcher) TryBrowsers(ctx context.Context, tried func(error)) error {
	return Try(ctx, t.people, Browsers, t.opts, func(_ string, err error) { tried(err) })
}

// Channel is how one recipient stands.
type Channel struct {
	Name string
	Stats
}

// Channels returns how each recipient stands. One that wants nothing is left out,
// and so are the browsers while none has asked to be sent messages.
func (t *Dispatcher) Channels() []Channel {
	if t == nil {
		return nil
	}
	stats := t.Notifier.Stats()
	var out []Channel
	for _, r := range t.people {
		if r.Wanted == nil || r.Wanted() || stats[r.Name].Sent > 0 {
			out = append(out, Channel{r.Name, stats[r.Name]})
		}
	}
	return out
}
