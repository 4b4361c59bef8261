package daemon

import (
	"context"
	"errors"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// pageMessages are the messages as the page shows them, and the browsers that want
// to be sent them.
type pageMessages struct {
	to  *notify.Dispatcher // nil without a recipient
	now func() time.Time
}

// pendingAcks are the messages that are said again until somebody has seen them.
func (p pageMessages) pendingAcks() []web.Ask {
	if p.to == nil {
		return nil
	}
	var all []web.Ask
	for _, a := range p.to.Notifier.PendingAcks() {
		all = append(all, web.Ask{ID: a.ID, Vessel: a.Vessel, Text: a.Text, Since: a.Since})
	}
	return all
}

// Seen says that somebody has seen a message.
func (p pageMessages) Seen(ctx context.Context, ask string) error {
	if p.to == nil {
		return failure.ErrUnknown
	}
	err := p.to.Notifier.Acknowledge(ctx, ask)
	if errors.Is(err, notify.ErrNotPending) {
		return failure.ErrUnknown
	}
	return err
}

// PushKey is the key that a browser must be given.
func (p pageMessages) PushKey() string {
	if p.to == nil || p.to.Devices == nil {
		return ""
	}
	return p.to.Devices.Key()
}

var errNoPush = &failure.Refusal{Code: "push", Say: text.Say("refused.push_off")}

// AddDevice keeps a browser that wants to be told.
func (p pageMessages) AddDevice(ctx context.Context, one web.PushDevice) error {
	if p.PushKey() == "" {
		return errNoPush
	}
	return refusedPush(p.to.Devices.Add(ctx, notify.Device{Endpoint: one.Endpoint, P256dh: one.P256dh, Auth: one.Auth, Name: one.Name, Added: p.now()}))
}

// refusedPush turns what the baker can do something about into a refusal.
func refusedPush(err error) error {
	if errors.Is(err, notify.ErrNoPushAddress) || errors.Is(err, notify.ErrBadKeys) {
		return &failure.Refusal{Code: "push", Say: text.Say("refused.push_address", text.Cause("err", err))}
	}
	return err
}

// RemoveDevice forgets a browser.
func (p pageMessages) RemoveDevice(ctx context.Context, endpoint string) error {
	if p.PushKey() == "" {
		return errNoPush
	}
	return p.to.Devices.Remove(ctx, endpoint)
}

// TryPush sends a test to every browser.
func (p pageMessages) TryPush(ctx context.Context) error {
	if p.PushKey() == "" {
		return errNoPush
	}
	var sent error
	err := p.to.TryBrowsers(ctx, func(err error) { sent = err })
	if sent != nil {
		return &failure.Refusal{Code: "push", Say: text.Say("refused.test", text.Cause("err", sent))}
	}
	return err
}
