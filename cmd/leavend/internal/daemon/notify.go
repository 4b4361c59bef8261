package daemon

import (
	"context"
	"fmt"

	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/web"
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

// messageChecks say on the page how each recipient stands.
func messageChecks(channels []notify.Channel) []web.Check {
	var out []web.Check
	for _, s := range channels {
		c := web.Check{Group: "messages", Name: s.Name, State: "ok", Says: fmt.Sprintf("%d messages sent since the start; %d wait.", s.Sent, s.Waiting)}
		if s.Trouble != "" {
			c.State, c.Says, c.Do = "bad", fmt.Sprintf("The last message did not go out: %s; %d wait.", s.Trouble, s.Waiting), "Run 'leavend notify test'."
		}
		out = append(out, c)
	}
	return out
}
