package daemon

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
	"leavend/control"
	"leavend/control/plug"
)

// known returns a pointer to v, or nil when v is no number.
func known(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// knownIf is known where ok, else nil.
func knownIf(v float64, ok bool) *float64 {
	if !ok {
		return nil
	}
	return known(v)
}

// announce passes how a vessel stands to the MQTT client, which never blocks.
// Events it takes from the log.
func (d *Daemon) announce(it monitor.Item) {
	if it.Status != nil {
		d.client.Vessel(d.vesselState(d.Vessel(it.Status.Vessel)))
	}
}

// vesselState is how a vessel goes out by MQTT.
func (d *Daemon) vesselState(v *monitor.Vessel) mqtt.Vessel {
	out := mqtt.VesselOf(v.Status(d.Clock.Now()))
	if a, ok := d.Steered(v.Conf.Slug); ok {
		out.ReadyAt, out.Ready = a.ReadyBy, a.Say().In(d.Conf.Form())
	}
	return out
}

// tellMat passes the mat's state on, and its faults as they come and go.
func (d *Daemon) tellMat(now time.Time, s control.State) {
	d.mat.Note(now, s.On)
	d.meter.Note(now, s.OnTotal)
	standing := map[string]bool{}
	for _, f := range s.Faults {
		standing[string(f.Kind)] = true
		d.Alarms.Raise(now, event.AlarmKey{Subject: event.SubjectMat, Reason: event.Reason(f.Kind)}, matComplaint(f))
	}
	for _, f := range d.Alarms.Of(event.SubjectMat) {
		if f.Key.Reason != event.NoReading && !standing[string(f.Key.Reason)] {
			d.Alarms.Clear(now, f.Key)
		}
	}
	if s.Mode == control.Hold {
		for _, key := range matHeatsNot {
			d.Alarms.Clear(now, key)
		}
	}
	if d.client != nil {
		d.client.Mat(d.matState(now, s))
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

// matState is how the mat goes out by MQTT.
func (d *Daemon) matState(now time.Time, s control.State) mqtt.Mat {
	m := mqtt.Mat{
		ID: event.SubjectMat, At: now, On: s.On, Mode: mqtt.ModeOff, Reason: heating.Why(s).In(d.Conf.Reader()),
		SetpointC: known(s.SetpointC), CutoffC: known(d.Conf.Mat.CutoffVesselC),
		TemperatureC: knownIf(s.VesselC, s.VesselOK), MatC: knownIf(s.MatC, s.MatOK),
	}
	if s.Mode == control.Hold {
		m.Mode = mqtt.ModeHeat
	}
	for _, f := range s.Faults {
		m.Latched = m.Latched || f.Latched
	}
	return m
}

// obey does what somebody asked for by MQTT, or says why not.
func (d *Daemon) obey(w mqtt.Command) error {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if w.Kind == mqtt.CommandFed {
		_, err := d.Fed(ctx, w.Subject, store.Feed{})
		return err
	}
	if w.Kind == mqtt.CommandReady {
		return d.wishReady(ctx, w.Subject, w.Text)
	}
	if w.Kind == mqtt.CommandSeen {
		return d.seen(ctx, w.Subject)
	}
	if d.Warm == nil {
		return heating.ErrNoMat
	}
	now := d.Clock.Now()
	switch w.Kind {
	case mqtt.CommandSetpoint:
		if err := d.Warm.AskSetpoint(now, w.Value); err != nil {
			return err
		}
		return d.remember(ctx, func(m *heating.Memory) { m.Setpoint = w.Value })
	case mqtt.CommandMode:
		if w.Mode != mqtt.ModeHeat {
			return d.Warm.SetMode(now, control.Off)
		}
		// A hub may undo its own off, and never the word of a person.
		if m := d.keeper.Memory(); !m.MayHeat() {
			return errors.New(waitsFor(m))
		}
		return d.Warm.SetMode(now, control.Hold)
	}
	return fmt.Errorf("%q is not understood", w.Kind)
}

// seen says that somebody has seen what is said again about a subject. It
// clears no fault: for that somebody has to look, and say so on the page.
func (d *Daemon) seen(ctx context.Context, subject string) error {
	if d.teller == nil {
		return notify.ErrNotAsked
	}
	return d.teller.n.SeenOf(ctx, subject)
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
	for _, w := range d.wires {
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
	for _, w := range d.wires {
		if h, ok := d.Health.Of(w.Key()); ok && h.Has {
			m.Reading(metrics.Reading{Sensor: w.Sensor.Name, Quantity: w.Quantity.String(), Value: h.Last.Value, At: h.Last.At, Failed: h.Failing > 0})
		}
	}
	for _, v := range d.Vessels {
		m.Vessel(metrics.VesselOf(v.Status(d.Clock.Now())))
	}
	if d.Warm != nil {
		m.Mat(d.matMetrics(d.Warm.State()))
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
	d.teller.refresh(m)
	for name, n := range d.Hub.Dropped() {
		m.Dropped(name, n)
	}
}

// matMetrics is the mat as the metrics show it.
func (d *Daemon) matMetrics(s control.State) metrics.Mat {
	p := d.matState(s.At, s)
	return metrics.Mat{
		ID: event.SubjectMat, On: s.On, Enabled: s.Mode == control.Hold, Latched: p.Latched, OnTime: s.OnTotal, EnergyJ: d.meter.Metered(), Switches: s.OnSwitches,
		SetpointC: p.SetpointC, CutoffC: p.CutoffC, MatC: p.MatC, DecidedAt: s.At,
	}
}
