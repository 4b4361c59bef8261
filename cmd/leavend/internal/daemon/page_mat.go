package daemon

import (
	"context"
	"errors"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
	"leavend/control"
)

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

// asks are the messages that are said again until somebody has seen them.
func (p *PageHouse) asks() []web.Ask {
	if p.D.teller == nil {
		return nil
	}
	var all []web.Ask
	for _, a := range p.D.teller.n.Asks() {
		all = append(all, web.Ask{ID: a.ID, Vessel: a.Vessel, Text: a.Text, Since: a.Since})
	}
	return all
}

// Seen says that somebody has seen a message.
func (p *PageHouse) Seen(ctx context.Context, ask string) error {
	if p.D.teller == nil {
		return failure.ErrUnknown
	}
	err := p.D.teller.n.Seen(ctx, ask)
	if errors.Is(err, notify.ErrNotAsked) {
		return failure.ErrUnknown
	}
	return err
}
