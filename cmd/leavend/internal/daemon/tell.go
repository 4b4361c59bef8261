package daemon

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
	"leavend/control"
	"leavend/control/plug"
)

// announce passes how a vessel stands to the MQTT client, which never blocks.
// Events it takes from the log.
func (d *Daemon) announce(it monitor.Item) {
	if it.Status != nil {
		d.client.Vessel(d.vesselState(d.Vessel(it.Status.Vessel)))
		d.client.Daemon(d.ownState(it.Status.At))
	}
}

// vesselState is how a vessel goes out by MQTT.
func (d *Daemon) vesselState(v *monitor.Vessel) mqtt.Vessel {
	out := mqtt.VesselOf(v.Status(d.Clock.Now()))
	if a, ok := d.readyBy.Advice(v.Conf.Slug); ok {
		out.ReadyAt, out.Ready = a.ReadyBy, a.Say().In(d.Conf.Form())
		out.ReadyTime = a.ReadyBy.In(d.Conf.Timezone).Format("15:04")
	}
	out.Alarm = d.alarmOf(v.Conf.Slug)
	return out
}

// ownState is how the daemon itself goes out by MQTT.
func (d *Daemon) ownState(now time.Time) mqtt.Daemon {
	out := mqtt.Daemon{At: now, Alarm: d.alarmOf(event.SubjectDaemon)}
	chosen := d.plans.Chosen()
	if chosen == nil {
		return out
	}
	for _, step := range chosen.Plan.Steps {
		if step.Kind == "loaf" {
			out.LoafAt = step.At
		}
		if step.Kind == "do" && !step.Done && out.NextStep == "" {
			out.NextStep, out.NextAt = step.Text, step.At
		}
	}
	return out
}

// alarmOf is what is wrong with a vessel, the mat or the daemon; empty where
// nothing is.
func (d *Daemon) alarmOf(subject string) string {
	var all []string
	for _, a := range d.Alarms.Of(subject) {
		all = append(all, a.Text)
	}
	return strings.Join(all, " ")
}

// noteMat takes in how the mat is, and passes it on.
func (d *Daemon) noteMat(now time.Time, s control.State) {
	d.heat.Note(now, s)
	if d.client != nil {
		m := mqtt.MatOf(now, s, d.Conf, d.heat.Meter.Metered())
		m.Alarm = d.alarmOf(event.SubjectMat)
		d.client.Mat(m)
	}
}

// matStands says on or off, and why; most reasons name it themselves.
func matStands(s control.State, r text.Reader) string {
	head := "mat: "
	if s.Unreachable || s.FreeAt.IsZero() && (s.Reason == control.ReasonWithin || s.Reason == control.ReasonRest) {
		head = map[bool]string{true: "mat on: ", false: "mat off: "}[s.On]
	}
	return head + heating.Why(s).In(r)
}

// obey does what somebody asked for by MQTT, or says why not.
func (d *Daemon) obey(c mqtt.Command) error {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	switch c.Kind {
	case mqtt.CommandFed:
		_, err := d.Fed(ctx, c.Subject, store.Feed{})
		return err
	case mqtt.CommandReady:
		return d.askReady(ctx, c.Subject, c.Text)
	case mqtt.CommandSeen:
		return d.seen(ctx, c.Subject)
	case mqtt.CommandSetpoint:
		return d.heat.SetSetpoint(ctx, c.Value)
	case mqtt.CommandMode:
		if c.Mode == mqtt.ModeHeat {
			return d.heat.Resume()
		}
		return d.heat.Pause()
	}
	return fmt.Errorf("%q is not understood", c.Kind)
}

// askReady takes a time in a baker's words; none forgets the one there is.
func (d *Daemon) askReady(ctx context.Context, slug, text string) error {
	if text == "" {
		return d.readyBy.Drop(ctx, slug)
	}
	at, err := planning.ParseTime(text, d.Clock.Now(), d.Conf.Timezone)
	if err != nil {
		return err
	}
	return d.readyBy.Ask(ctx, slug, at)
}

// seen says that somebody has seen what is said again about a subject. It
// clears no fault: for that somebody has to look, and say so on the page.
func (d *Daemon) seen(ctx context.Context, subject string) error {
	if d.messages == nil {
		return notify.ErrNotAsked
	}
	return d.messages.Notifier.SeenOf(ctx, subject)
}

// hearPlug brings the plug's own word to its output.
func (d *Daemon) hearPlug(out control.Output) error {
	p, ok := out.(*plug.Dev)
	if !ok {
		return nil
	}
	if d.client == nil {
		return errors.New("mat.output: a plug is switched by MQTT, and mqtt.on is false")
	}
	return d.client.HearPlug(p, d.Clock.Now)
}

// count notes events in the metrics; everything else there is fetched when
// somebody looks.
func (d *Daemon) count(it monitor.Item) {
	if it.Event == nil {
		return
	}
	e := *it.Event
	if e.Kind == event.Forecast {
		d.scores.Said(e)
		return
	}
	d.metrics.Event(string(e.Kind))
	switch e.Kind {
	case event.Fed:
		d.scores.Forget(e.Subject)
	case event.Peak:
		if off, ok := d.scores.Off(e); ok {
			d.metrics.Forecast(e.Subject, off)
		}
	case event.AlarmRaised:
		d.metrics.Fault(string(e.Alarm.Reason), true)
	case event.AlarmCleared:
		d.metrics.Fault(string(e.Alarm.Reason), false)
	}
}

// metricsOpts names everything that the metrics will ever show.
func (d *Daemon) metricsOpts() metrics.Opts {
	o := metrics.Opts{
		Version: version.Version, Revision: version.Revision(), EventKinds: texts(event.Kinds()),
		ErrorReasons: []string{"failed", "timeout", "hung"},
		FaultKinds:   texts(event.Reasons()),
		Refresh:      d.refreshMetrics,
	}
	o.Stages = texts(monitor.Stages())
	for _, k := range control.FaultKinds() {
		o.FaultKinds = append(o.FaultKinds, string(k))
	}
	for _, v := range d.Conf.Vessels {
		o.Vessels = append(o.Vessels, metrics.Info{ID: v.Slug, Name: v.Name, Kind: string(v.Kind)})
	}
	if d.Warm != nil {
		o.Mats = []metrics.Info{{ID: event.SubjectMat, Name: "mat", Kind: string(d.Conf.Mat.Output)}}
	}
	for _, w := range d.sensing.channels {
		o.Sensors = append(o.Sensors, metrics.Sensor{
			ID: w.Sensor.Name, Vessel: d.ServedBy(w.Sensor.Name), Place: string(w.Sensor.Place), Quantity: w.Quantity.String(),
		})
	}
	return o
}

// texts returns words of a closed set as plain strings.
func texts[T ~string](words []T) []string {
	out := make([]string, 0, len(words))
	for _, w := range words {
		out = append(out, string(w))
	}
	return out
}

// refreshMetrics puts in what is so now.
func (d *Daemon) refreshMetrics(m *metrics.Metrics) {
	for _, w := range d.sensing.channels {
		if h, ok := d.Health.Of(w.Key()); ok && h.Has {
			m.Reading(metrics.Reading{Sensor: w.Sensor.Name, Quantity: w.Quantity.String(), Value: h.Last.Value, At: h.Last.At, Failed: h.Failing > 0})
		}
	}
	for _, v := range d.Vessels {
		m.Vessel(metrics.VesselOf(v.Status(d.Clock.Now())))
	}
	if d.Warm != nil {
		m.Mat(metrics.MatOf(d.Warm.State(), d.Conf, d.heat.Meter.Metered()))
	}
	if d.client != nil {
		s := d.client.Stats()
		m.Publish(metrics.Publish{
			Connected: s.Connected, EventsWaiting: s.EventsWaiting, Connections: s.Connections,
			EventsSent: s.EventsSent, EventsLost: s.EventsLost, StatesSent: s.StatesSent,
			Commands: s.PlugCommands, Refused: s.PlugRefused, Wishes: s.Commands, WishesRefused: s.CommandsRefused, InboundLost: s.InboundLost,
		})
	}
	s := d.Store.Stats()
	m.Store(metrics.Store{Waiting: s.Buffered, Errors: uint64(s.Failed), CommittedAt: s.Commit, Bytes: fileSize(d.Store.Path()), FreeBytes: freeBytes(d.Store.Path())})
	messageMetrics(m, d.messages.Channels())
	for name, n := range d.Hub.Dropped() {
		m.Dropped(name, n)
	}
}
