package backend

import (
	"context"
	"errors"
	"math"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
	"leavend/control"
)

// Mats shows the mat and changes what it does.
type Mats struct {
	m    *monitor.Monitor
	heat *heating.Heater
}

// mat is the mat as the page shows it.
func (p Mats) mat() web.Mat {
	s, conf := p.heat.Mat.State(), p.m.Conf.Mat
	memory := p.heat.Memory()
	nan := web.Real(math.NaN())
	m := web.Mat{
		ID: event.SubjectMat, Name: "Mat", Allowed: s.Mode == control.Hold, Accepted: !memory.Accepted.IsZero(), Cautions: heating.CautionLines(p.m.Conf.Reader()),
		On: s.On, Since: p.heat.Switched.Since(), Reason: heating.Why(s).In(p.m.Conf.Reader()), ReasonSay: heating.Why(s), SetpointC: web.Real(p.heat.Setpoint()), SteeringC: nan,
		LowC: web.Real(conf.SetpointMinC), HighC: web.Real(conf.SetpointMaxC), HysteresisC: web.Real(conf.HysteresisC),
		CutoffC: web.Real(conf.CutoffVesselC), MatCutoffC: nan, OnShareDay: web.Real(s.DutyDay),
		Energy: p.energy(), Switches: int(s.OnSwitches), SwitchLife: conf.SwitchLife, SwitchWorn: heating.WornTimes(s.OnSwitches, conf.SwitchLife) > 0,
		Faults: []web.Fault{},
	}
	if !m.Accepted {
		m.CautionsSay = heating.Cautions()
	}
	slots, own := p.heat.Schedule()
	m.StepsOwn = own
	m.Steps, m.StepsFixed = stepsOf(slots)
	if s.SetpointC != p.heat.Setpoint() {
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
		m.Faults = append(m.Faults, matFault(f, s, p.m.Conf))
	}
	return m
}

// SetSetpoint changes the warmth to hold, within the config's limits.
func (p Mats) SetSetpoint(ctx context.Context, mat string, c float64) error {
	if err := p.knownMat(mat); err != nil {
		return err
	}
	if err := p.heat.Mat.AskSetpoint(p.m.Clock.Now(), c); err != nil {
		return &failure.Refusal{Code: "limits", Say: text.Explain(err)}
	}
	return p.heat.SetSetpoint(ctx, c)
}

// Allow lets the mat heat, or forbids it.
func (p Mats) Allow(ctx context.Context, mat string, on, accepted bool) error {
	if err := p.knownMat(mat); err != nil {
		return err
	}
	if on {
		err := p.heat.Allow(ctx, accepted)
		if errors.Is(err, heating.ErrCautions) {
			return &failure.Refusal{Code: "cautions"}
		}
		return err
	}
	return p.heat.Forbid(ctx)
}

// Acknowledge clears the latched faults, unless their cause still holds.
func (p Mats) Acknowledge(ctx context.Context, _ string) error {
	if err := p.knownMat(event.SubjectMat); err != nil {
		return err
	}
	err := p.heat.Acknowledge(ctx)
	switch {
	case errors.Is(err, control.ErrStillHot):
		return &failure.Refusal{Code: "holds", Say: text.Say("refused.hot")}
	case errors.Is(err, control.ErrHotUnheard):
		return &failure.Refusal{Code: "holds", Say: text.Say("refused.unheard")}
	}
	return err
}

func (p Mats) knownMat(id string) error {
	if p.heat.Mat == nil || id != event.SubjectMat {
		return failure.ErrUnknown
	}
	return nil
}

// energy is what the mat drew, as the page tells it.
func (p Mats) energy() []web.Energy {
	var fed time.Time
	if v := p.m.Vessel(p.heat.Mat.Vessel); v != nil {
		fed = v.Curve().FedAt
	}
	var out []web.Energy
	for _, e := range p.heat.EnergySpans(p.m.Clock.Now(), fed) {
		out = append(out, web.Energy{Of: e.Of, From: e.From, To: e.To, KWh: web.Real(e.KWh)})
	}
	return out
}

// matFault is a fault of the mat as the page shows it: what happened, what to
// do, and why it cannot be acknowledged yet.
func matFault(f control.Fault, s control.State, conf *config.Config) web.Fault {
	what, do := heating.FaultText(f.Kind)
	out := web.Fault{ID: string(f.Kind), Kind: string(f.Kind), TextSay: what, DoSay: do, Since: f.Since}
	if !f.Latched {
		out.Holds, out.WhySay = true, text.Say("mat.clears_itself")
	} else {
		if limit := conf.Mat.CutoffVesselC - control.SetpointMarginC; s.VesselOK && s.VesselC > limit {
			out.Holds, out.WhySay = true, heating.StillHot(false, s.VesselC, limit)
		}
		if limit := conf.Mat.CutoffMatC - control.SetpointMarginC; s.MatOK && s.MatC > limit {
			out.Holds, out.WhySay = true, heating.StillHot(true, s.MatC, limit)
		}
	}
	reader := conf.Reader()
	out.Text, out.Do, out.Why = what.In(reader), do.In(reader), out.WhySay.In(reader)
	return out
}
