package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"syscall"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/text"
)

// part is something that the daemon can be without: the page, the metrics, a
// port of the broker. While it is missing an alarm stands, and it is tried again.
type part struct {
	name    string // in the sentences below "alarm.part."
	key     string // of the setting to look at
	open    func() error
	serve   func(context.Context) error // until ctx ends; after open
	close   func()
	trouble error // of the first try, before anything runs
}

// The wait before a part is tried again; it doubles from the first to the last.
const (
	firstRetry = time.Second
	lastRetry  = time.Minute
)

// settled is how long a part must serve until it counts as there: one whose
// files are wrong ends at once.
const settled = 2 * time.Second

// openParts names the parts that are wanted and opens each for the first time:
// what listens early is known before anything starts.
func (d *Daemon) openParts() {
	if c := d.Conf.Metrics; c.On {
		d.metricsPort = &port{address: c.Listen}
		d.addPort("metrics", "metrics.listen", d.metricsPort, func(ctx context.Context, l net.Listener) error {
			return d.metrics.Serve(ctx, l, c.WebConfigFile, d.Log)
		})
	}
	if d.page != nil {
		d.pagePort = &port{address: d.Conf.Web.Listen}
		d.addPort("page", "web.listen", d.pagePort, d.page.Serve)
	}
	if d.broker != nil {
		for _, p := range d.broker.Ports() {
			d.parts = append(d.parts, &part{name: "broker", key: p.Name, open: p.Open, serve: p.Wait, close: p.Close})
		}
	}
	for _, p := range d.parts {
		p.trouble = p.open()
	}
}

// addPort adds a part that serves one port.
func (d *Daemon) addPort(name, key string, at *port, serve func(context.Context, net.Listener) error) {
	d.parts = append(d.parts, &part{
		name: name, key: key, open: at.open, close: at.close,
		serve: func(ctx context.Context) error { return serve(ctx, at.take()) },
	})
}

// Missing returns why parts could not be opened at the start: all that are wanted, or
// one by its name.
func (d *Daemon) Missing(name string) error {
	var errs []error
	for _, p := range d.parts {
		if p.trouble != nil && (name == "" || p.name == name) {
			errs = append(errs, fmt.Errorf("%s: %w", p.key, p.trouble))
		}
	}
	return errors.Join(errs...)
}

// sustain keeps a part until ctx ends. It returns no error: sensing and heating
// go on without it.
func (d *Daemon) sustain(ctx context.Context, p *part) error {
	wait, key := firstRetry, event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.PartMissing, Part: p.key}
	for ctx.Err() == nil {
		began, err := time.Now(), p.open()
		if err == nil {
			there := time.AfterFunc(settled, func() { d.Alarms.Clear(d.Clock.Now(), key) })
			err = p.serve(ctx)
			there.Stop()
		}
		if ctx.Err() != nil {
			return nil
		}
		if time.Since(began) > lastRetry {
			wait = firstRetry
		}
		d.Alarms.Raise(d.Clock.Now(), key, p.alarmText(err))
		select {
		case <-ctx.Done():
		case <-time.After(wait):
		}
		wait = min(2*wait, lastRetry)
	}
	return nil
}

// alarmText says that a part is missing.
func (p *part) alarmText(err error) event.AlarmText {
	why := "alarm.part.broken"
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		why = "alarm.part.port_taken"
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		why = "alarm.part.elsewhere"
	case errors.Is(err, fs.ErrNotExist):
		why = "alarm.part.no_file"
	case errors.Is(err, fs.ErrPermission):
		why = "alarm.part.rights"
	}
	name := text.Sub("part", text.Say("alarm.part."+p.name))
	return event.AlarmText{
		Say:    text.Say("alarm.part.missing", name, text.Sub("why", text.Say(why))),
		Detail: fmt.Sprintf("%s: %v", p.key, err),
		Over:   text.Say("alarm.part.over", name),
	}
}

// port is an address that a part listens on.
type port struct {
	address string
	l       net.Listener // not served yet; nil while it is not open
	at      net.Addr     // where it listened last
}

func (p *port) open() (err error) {
	if p.l == nil {
		p.l, err = net.Listen("tcp", p.address)
	}
	if err == nil {
		p.at = p.l.Addr()
	}
	return err
}

// take hands over the listener, which its server closes.
func (p *port) take() net.Listener {
	l := p.l
	p.l = nil
	return l
}

// Addr is where the port listens, or did.
func (p *port) Addr() net.Addr { return p.at }

func (p *port) close() {
	if l := p.take(); l != nil {
		_ = l.Close() // it never served anybody
	}
}

// watchAccess tells while sign-in to the page does not work, because the file with
// its password cannot be read.
func (d *Daemon) watchAccess(now time.Time) {
	if d.page == nil {
		return
	}
	err := d.page.AccessTrouble()
	says := event.AlarmText{Say: text.Say("alarm.part.sign_in"), Over: text.Say("alarm.part.sign_in_over")}
	if err != nil {
		says.Detail = err.Error()
	}
	d.setAlarm(now, event.PartMissing, "page access", err != nil, says)
}
