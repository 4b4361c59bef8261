package daemon

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
	"leavend/control/plug"
)

// Run lives until ctx ends or a part that the daemon cannot do without fails.
// Whatever ends it, the mat goes off first.
func (d *Daemon) Run(ctx context.Context) error {
	d.ran = true
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	// What keeps and tells ends after what senses and heats, so that the last
	// word of the one reaches the other.
	shell, stopShell := context.WithCancel(context.WithoutCancel(ctx))
	defer stopShell()

	var inner, outer taskGroup
	for _, c := range []*taskGroup{&inner, &outer} {
		c.failed = stop
		if d.Mat != nil {
			c.mat = d.Mat.Mat
		}
	}
	// Everybody hears before anybody can tell, for an event is told once.
	outer.Listen(shell, d.listeners.log, d.logChange)
	outer.Listen(shell, d.listeners.store, d.Save)
	outer.Listen(shell, d.listeners.metrics, d.metrics.count)
	outer.Listen(shell, d.listeners.plan, d.plans.Hear)
	if d.client != nil {
		outer.Listen(shell, d.Hub.Listen("mqtt"), d.link.announce)
	}
	if d.messages != nil {
		outer.Listen(shell, d.Hub.Listen("notify"), d.messages.Observe)
	}
	if d.page != nil {
		outer.Listen(shell, d.Hub.Listen("page"), func(monitor.Item) { d.page.Changed() })
	}
	outer.Go(shell, "store", d.Store.Run)
	if d.broker != nil {
		outer.Go(shell, "broker", d.broker.Run)
	}
	if d.client != nil {
		outer.Go(shell, "mqtt", d.client.Run)
	}
	if d.messages != nil {
		outer.Go(shell, "notify", d.messages.Run)
	}
	outer.Go(shell, "plan", d.plans.Run)
	for _, p := range d.parts {
		outer.Go(shell, p.name, func(ctx context.Context) error { return d.sustain(ctx, p) })
	}
	if d.page != nil {
		outer.Go(shell, "curves", d.curves.LearnBaselines)
	}
	if d.Conf.Store.BackupDir != "" {
		outer.Go(shell, "backup", d.backUpNightly)
	}
	if d.Local != "" {
		outer.Go(shell, "local", d.ServeLocal)
	}
	d.sensing.start(ctx, &inner)
	inner.Go(ctx, "guard", d.guard)
	inner.Go(ctx, "upkeep", d.upkeep)
	inner.Go(ctx, "ready-by", d.readyBy.Run)
	d.super.Ready()

	<-ctx.Done()
	if !errors.Is(context.Cause(ctx), ErrRestart) {
		d.super.Stopping()
	}
	err := d.matOff()
	d.noteOff(err)
	inner.Wait()
	// The last stint ended just now, and upkeep may have looked before it did.
	d.heat.SaveLast(context.WithoutCancel(ctx))
	stopShell()
	outer.Wait()
	if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) && !errors.Is(cause, context.DeadlineExceeded) {
		err = errors.Join(cause, err)
	}
	return errors.Join(err, d.Close())
}

// guard is the mat's own ticker. A bus that hangs cannot keep the mat on, and
// only a step that was sound feeds the watchdog.
func (d *Daemon) guard(ctx context.Context) error {
	every := 2 * time.Second
	if d.Mat != nil {
		every = d.Mat.TickEvery()
	}
	var unknownSince time.Time
	d.Clock.Every(ctx, every, func(now time.Time) {
		if d.Mat != nil {
			d.Mat.Tick(now)
			state := d.Mat.State()
			d.heat.Note(now, state)
			d.link.mat(now, state)
			if state.Output != control.OutputUnknown {
				unknownSince = time.Time{}
			} else if unknownSince.IsZero() {
				unknownSince = now
			}
		}
		if d.healthy(now, unknownSince) {
			d.super.Alive(time.Now())
		}
	})
	return nil
}

// silentLimit is how long a bus may give no answer at all before systemd is
// to start the daemon again: a poller that works answers within seconds, if
// only with an error.
const silentLimit = 2 * time.Minute

// healthy reports whether the control loop does its work. An output on a GPIO
// line that cannot be written is a reason for a fresh start; a plug that
// cannot be reached is not, for that is the network's doing.
func (d *Daemon) healthy(now, unknownSince time.Time) bool {
	if silent := d.sensing.beats.Silent(now, silentLimit); len(silent) > 0 && d.Clock.Speed() == 1 {
		d.Log.Error("a bus gives no answer; the watchdog is not fed", "buses", silent)
		return false
	}
	stuck := !unknownSince.IsZero() && now.Sub(unknownSince) > silentLimit
	return !stuck || d.Conf.Mat.Output != "gpio"
}

// matOff switches the mat off for good.
func (d *Daemon) matOff() error {
	if d.Mat == nil {
		return nil
	}
	err := d.Mat.Close()
	if !d.ran && errors.Is(err, plug.ErrDisconnected) {
		return nil // it was never reached, so nothing was switched on
	}
	if err != nil {
		return fmt.Errorf("the mat could not be switched off: %w; pull its plug", err)
	}
	return nil
}

// noteOff notes for 'leavend mat off' that the mat was known to be off when the
// daemon ended: of a plug on the broker inside, no other program knows.
func (d *Daemon) noteOff(failed error) {
	if failed != nil || d.heat.Output == nil {
		return
	}
	if err := heating.Confirmed(context.Background(), d.heat.Output, 3*time.Second); err != nil {
		d.Log.Warn("the mat was told to be off, but did not confirm it", "err", err)
		return
	}
	if err := heating.NoteOff(d.noteFile, d.Clock.Now()); err != nil && !errors.Is(err, os.ErrNotExist) {
		d.Log.Warn("that the mat is off could not be noted", "err", err)
	}
}

// close closes what New opened, the mat's output first.
func (d *Daemon) Close() error {
	errs := []error{d.matOff()}
	if d.sensing != nil {
		errs = append(errs, d.sensing.registry.Close())
	}
	for _, p := range d.parts {
		p.close()
	}
	if d.Store != nil {
		errs = append(errs, d.Store.Close())
		d.Store = nil
	}
	if d.temporary != "" {
		errs = append(errs, os.RemoveAll(d.temporary))
	}
	return errors.Join(errs...)
}

// taskGroup is a group of goroutines that end together.
type taskGroup struct {
	sync.WaitGroup
	mat    *control.Mat            // goes off before a panic goes on; nil without a mat
	failed context.CancelCauseFunc // told when one fails
}

// Go starts a goroutine; its error ends the daemon.
func (c *taskGroup) Go(ctx context.Context, name string, f func(context.Context) error) {
	c.WaitGroup.Go(func() { c.work(ctx, name, f) })
}

// work is what a goroutine of the group does. When it panics the mat goes off
// before the program ends.
func (c *taskGroup) work(ctx context.Context, name string, f func(context.Context) error) {
	if c.mat != nil {
		defer c.mat.OffOnPanic()
	}
	if err := f(ctx); err != nil && ctx.Err() == nil {
		c.failed(fmt.Errorf("%s: %w", name, err))
	}
}

// Listen starts a goroutine that hears the hub.
func (c *taskGroup) Listen(ctx context.Context, l *monitor.Listener, f func(monitor.Item)) {
	c.Go(ctx, l.Name, func(ctx context.Context) error { l.Run(ctx, f); return nil })
}
