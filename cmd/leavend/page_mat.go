package main

import (
	"context"
	"errors"
	"strings"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/web"
	"leavend/control"
	"leavend/peak/said"
)

// matSwitch remembers since when the mat is on or off.
type matSwitch struct {
	mu    sync.Mutex // guards what follows
	on    bool
	since time.Time
}

// Note takes in how the mat is.
func (m *matSwitch) Note(now time.Time, on bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.since.IsZero() || on != m.on {
		m.on, m.since = on, now
	}
}

// Since returns since when it is so.
func (m *matSwitch) Since() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.since
}

// matFault is a fault of the mat as the page shows it: what happened, what to
// do, and why it cannot be acknowledged yet.
func matFault(f control.Fault, s control.State, conf *config.Config) web.Fault {
	what, do := whatAndDo(f.Kind.Text())
	if f.Detail != "" && f.Kind != control.FaultOutput { // an error of the switch is for the log
		what = strings.TrimSuffix(what, ".") + " (" + f.Detail + ")."
	}
	out := web.Fault{ID: string(f.Kind), Kind: string(f.Kind), Text: what, Do: do, Since: f.Since}
	if !f.Latched {
		out.Holds, out.Why = true, "It is over by itself as soon as the cause is put right."
		return out
	}
	for _, at := range []struct {
		name      string
		c, cutoff float64
		ok        bool
	}{{"The vessel", s.VesselC, conf.Mat.CutoffVesselC, s.VesselOK}, {"The mat's surface", s.MatC, conf.Mat.CutoffMatC, s.MatOK}} {
		if limit := at.cutoff - control.SetpointMarginC; at.ok && at.c > limit {
			out.Holds = true
			out.WhySay = said.Say("%v still has %v. Once it is below %v it can be acknowledged.", at.name, said.Tenths(at.c), said.Tenths(limit))
		}
	}
	out.Why = out.WhySay.In(conf.Form())
	return out
}

// whatAndDo parts a fault's text: what happened, with what became of the mat,
// and what to do.
func whatAndDo(text string) (what, do string) {
	parts := strings.SplitAfter(text, ". ")
	n := 1
	if len(parts) > 2 && strings.HasPrefix(parts[1], "The mat ") {
		n = 2
	}
	return strings.TrimSpace(strings.Join(parts[:n], "")), strings.Join(parts[n:], "")
}

// asks are the messages that are said again until somebody has seen them.
func (p *pageHouse) asks() []web.Ask {
	if p.d.teller == nil {
		return nil
	}
	var all []web.Ask
	for _, a := range p.d.teller.n.Asks() {
		all = append(all, web.Ask{ID: a.ID, Text: a.Text, Since: a.Since})
	}
	return all
}

// Seen says that somebody has seen a message.
func (p *pageHouse) Seen(ctx context.Context, ask string) error {
	if p.d.teller == nil {
		return failure.ErrUnknown
	}
	err := p.d.teller.n.Seen(ctx, ask)
	if errors.Is(err, notify.ErrNotAsked) {
		return failure.ErrUnknown
	}
	return err
}
