package daemon

import (
	"context"
	"errors"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/web"
)

// pageMessages are the messages as the page shows them, and the browsers that want
// to be sent them.
type pageMessages struct{ d *Daemon }

// asks are the messages that are said again until somebody has seen them.
func (p pageMessages) asks() []web.Ask {
	if p.d.teller == nil {
		return nil
	}
	var all []web.Ask
	for _, a := range p.d.teller.n.Asks() {
		all = append(all, web.Ask{ID: a.ID, Vessel: a.Vessel, Text: a.Text, Since: a.Since})
	}
	return all
}

// Seen says that somebody has seen a message.
func (p pageMessages) Seen(ctx context.Context, ask string) error {
	if p.d.teller == nil {
		return failure.ErrUnknown
	}
	err := p.d.teller.n.Seen(ctx, ask)
	if errors.Is(err, notify.ErrNotAsked) {
		return failure.ErrUnknown
	}
	return err
}
