package daemon

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/setup"
	"leavend/cmd/leavend/internal/version"
	"leavend/cmd/leavend/internal/web"
	"leavend/cmd/leavend/internal/web/backend"
	"leavend/control"
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
	if d.teller != nil {
		opts.Open = map[string]http.Handler{notify.AckPath: d.teller.n}
	}
	if c.TLS == config.TLSFiles {
		opts.CertFile, opts.KeyFile = c.CertFile, c.KeyFile
	}
	if p.Reload != nil && d.Conf.File != "" {
		board := setup.New(d.Conf.File, d.accepted, d.Log, p.Reload)
		opts.Walk, opts.Reach = board, board
	}
	var err error
	var b web.Backend
	b, d.curves = d.backend()
	d.page, err = web.New(b, opts)
	return err
}

// PageHouse shows the house to the page.
type PageHouse struct {
	D *Daemon
}

// backend is what stands behind the page.
func (d *Daemon) backend() (web.Backend, *backend.History) {
	b, curves := backend.New(d.Monitor, d.plans, backend.Opts{InMemory: d.stopgap != "", Came: d.teller.Came})
	p := &PageHouse{D: d}
	b.Watch, b.Reminders, b.Mats, b.Push, b.ReadyBy = p, p, p, p, p
	return b, curves
}

// Now is everything the page shows at a glance.
func (p *PageHouse) Now() web.Snapshot {
	d := p.D
	k := web.Snapshot{At: d.Clock.Now(), Zone: zoneName(d.Conf.Timezone), Demo: d.demo}
	for _, v := range d.Vessels {
		k.Vessels = append(k.Vessels, p.vessel(v))
	}
	if d.Warm != nil {
		k.Mats = []web.Mat{p.mat()}
	}
	k.Asks = p.asks()
	for _, f := range d.Alarms.Active() {
		if f.Key.Subject == event.SubjectDaemon {
			k.Notices = append(k.Notices, web.Notice{Code: string(f.Key.Reason), Text: f.Text, Since: f.Since})
		}
	}
	return k
}

// zoneName is the time zone's name for a browser; it knows no "Local".
func zoneName(l *time.Location) string {
	if name := l.String(); name != "Local" {
		return name
	}
	return ""
}

// vessel is one vessel as the page shows it.
func (p *PageHouse) vessel(v *monitor.Vessel) web.Vessel {
	s := v.Status(p.D.Clock.Now())
	out := web.VesselOf(s, p.D.Conf.Reader())
	if s.Forecast != nil && s.Forecast.Source == monitor.OwnCurve {
		out.Forecast.Fan = web.FanOf(v.Fan())
	}
	if s.OnMat {
		out.Mat = event.SubjectMat
	}
	out.Wish = p.wish(s.ID)
	return out
}

// mat is the mat as the page shows it.
func (p *PageHouse) mat() web.Mat {
	d := p.D
	s, conf := d.Warm.State(), d.Conf.Mat
	memory := d.keeper.Memory()
	nan := web.Real(math.NaN())
	m := web.Mat{
		ID: event.SubjectMat, Name: "Mat", Allowed: s.Mode == control.Hold, Accepted: !memory.Accepted.IsZero(), Cautions: heating.CautionLines(),
		On: s.On, Since: d.mat.Since(), Reason: heating.Why(s).In(d.Conf.Reader()), ReasonSay: heating.Why(s), SetpointC: web.Real(setpointOf(memory, conf)), SteeringC: nan,
		LowC: web.Real(conf.SetpointMinC), HighC: web.Real(conf.SetpointMaxC), HysteresisC: web.Real(conf.HysteresisC),
		CutoffC: web.Real(conf.CutoffVesselC), MatCutoffC: nan, OnShareDay: web.Real(s.DutyDay),
		Energy: p.energy(d.Clock.Now()), Switches: int(s.OnSwitches), SwitchLife: conf.SwitchLife, SwitchWorn: heating.WornTimes(s.OnSwitches, conf.SwitchLife) > 0,
		Faults: []web.Fault{},
	}
	m.Steps, m.StepsFixed = stepsOf(d.Warm.Slots())
	if s.SetpointC != setpointOf(memory, conf) {
		m.SteeringC = web.Real(s.SetpointC)
	}
	if conf.MatProbe != "" {
		m.MatCutoffC = web.Real(conf.CutoffMatC)
	}
	for _, at := range []struct {
		to *(*web.Measure)
		c  float64
		ok bool
	}{{&m.Temp, s.VesselC, s.VesselOK}, {&m.MatTemp, s.MatC, s.MatOK}, {&m.RoomTemp, s.RoomC, s.RoomOK}} {
		if at.ok {
			*at.to = &web.Measure{Value: web.Real(at.c), At: s.At}
		}
	}
	for _, f := range s.Faults {
		m.Faults = append(m.Faults, matFault(f, s, d.Conf))
	}
	return m
}

// setpointOf is what the baker set, or else what the config says.
func setpointOf(m heating.Memory, conf config.Mat) float64 {
	if m.Setpoint != 0 {
		return m.Setpoint
	}
	return conf.SetpointC
}

// Setup is how the daemon's parts do.
func (p *PageHouse) Setup() web.Setup {
	d := p.D
	s := web.Setup{Version: version.Version, Started: d.started, Checks: []web.Check{}}
	for _, w := range d.wires {
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
			if says := hardware.AveragingText(w.Source, d.Conf.Units == config.US); says != "" {
				c.Says += " " + says
			}
			d.tellWander(w, &c)
		}
		s.Checks = append(s.Checks, c)
	}
	for _, f := range d.Alarms.Active() {
		if f.Key.Reason != event.NoReading {
			s.Checks = append(s.Checks, web.Check{Group: f.Key.Subject, Name: string(f.Key.Reason), State: "bad", Says: withDetail(f.AlarmText)})
		}
	}
	if d.client != nil {
		c := web.Check{Group: "messages", Name: "MQTT broker", State: "ok", Says: "Connected."}
		if st := d.client.Stats(); !st.Connected {
			c.State, c.Says = "bad", "Not connected: "+st.Trouble
		}
		s.Checks = append(s.Checks, c)
	}
	s.Checks = append(s.Checks, d.teller.checks()...)
	st := d.Store.Stats()
	s.Checks = append(s.Checks, web.Check{Group: "storage", Name: "History", State: "ok",
		Says: fmt.Sprintf("%.1f MB kept, %.1f GB free; %d readings wait for the next write.",
			float64(fileSize(d.Store.Path()))/1e6, float64(freeBytes(d.Store.Path()))/1e9, st.Buffered)})
	return s
}

// tellWander adds how much a vessel's ranger wanders, once a curve has shown it.
func (d *Daemon) tellWander(w hardware.Channel, c *web.Check) {
	for _, v := range d.Vessels {
		status := v.Observed().Status
		if v.Conf.Distance != w.Sensor.Name || w.Quantity != sensor.Distance || !status.Wanders() {
			continue
		}
		says, do := hardware.WanderText(status, d.Conf.Units == config.US)
		c.State, c.Says, c.Do = "warn", c.Says+" "+says, do
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
func withDetail(c event.AlarmText) string {
	if c.Detail == "" {
		return c.Text
	}
	return c.Text + " (" + c.Detail + ")"
}

// SetSetpoint changes the warmth to hold, within the config's limits.
func (p *PageHouse) SetSetpoint(ctx context.Context, mat string, c float64) error {
	if err := p.knownMat(mat); err != nil {
		return err
	}
	if err := p.D.Warm.AskSetpoint(p.D.Clock.Now(), c); err != nil {
		return &failure.Refusal{Code: "limits", Why: err.Error()}
	}
	return p.D.remember(ctx, func(m *heating.Memory) { m.Setpoint = c })
}

// Allow lets the mat heat, or forbids it.
func (p *PageHouse) Allow(ctx context.Context, mat string, on, accepted bool) error {
	if err := p.knownMat(mat); err != nil {
		return err
	}
	if on {
		err := p.D.allow(ctx, accepted)
		if errors.Is(err, errCautions) {
			return &failure.Refusal{Code: "cautions", Why: "Read and accept the cautions first."}
		}
		return err
	}
	if err := p.D.Warm.SetMode(p.D.Clock.Now(), control.Off); err != nil {
		return &failure.Refusal{Code: "mat", Why: err.Error()}
	}
	return p.D.remember(ctx, func(m *heating.Memory) { m.Mode = control.Off })
}

// Acknowledge clears the latched faults, unless their cause still holds.
func (p *PageHouse) Acknowledge(ctx context.Context, _ string) error {
	if err := p.knownMat(event.SubjectMat); err != nil {
		return err
	}
	err := p.D.acknowledge(ctx)
	switch {
	case errors.Is(err, control.ErrStillHot):
		return &failure.Refusal{Code: "holds", Why: "A probe still reads close to its cutoff; let it cool, then acknowledge again."}
	case errors.Is(err, control.ErrHotUnheard):
		return &failure.Refusal{Code: "holds", Why: "A probe was close to its cutoff when it was last heard, and is silent since; see that it answers, then acknowledge again."}
	}
	return err
}

func (p *PageHouse) knownMat(id string) error {
	if p.D.Warm == nil || id != event.SubjectMat {
		return failure.ErrUnknown
	}
	return nil
}
