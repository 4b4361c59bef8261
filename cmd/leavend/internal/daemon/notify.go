package daemon

import (
	"context"

	"leavend/cmd/leavend/internal/notify"
)

// openMessages opens the way to the recipients, unless the config names none.
// sender is nil but in tests.
func (d *Daemon) openMessages(ctx context.Context, sender func(address, key string) (notify.Sender, error)) (err error) {
	d.messages, err = notify.OpenDispatcher(ctx, d.Monitor, notify.DispatcherOpts{Awaits: d.plans.Awaits, Chills: d.plans.Chills, Sender: sender})
	if err != nil || d.messages == nil {
		return err
	}
	d.plans.Notifier = d.messages
	if d.readyBy != nil {
		d.readyBy.Missed = d.messages.ReadyByMissed
	}
	return nil
}
