package daemon

import (
	"context"
	"errors"
	"path/filepath"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/web"
)

// Browsers is the name of the recipient that is every browser which asked to
// be told. A [[notify]] of this name says what they are told, and when.
const Browsers = "browsers"

// pushKeyFile is the name of the file beside the store that holds the house's
// key pair for browser push.
const pushKeyFile = "push-key.json"

// openDevices opens what browser push needs. Without it everything else goes
// on: it is one way of telling among several.
func (d *Daemon) openDevices(ctx context.Context) *notify.Devices {
	if !d.Conf.Web.On {
		return nil
	}
	contact := d.Conf.Web.PageAddress()
	if !strings.HasPrefix(contact, "https://") {
		contact = "https://leavend.invalid" // RFC 8292 wants some address; a push service asks for it when we misbehave
	}
	devices, err := notify.OpenDevices(ctx, d.Store, filepath.Join(filepath.Dir(d.Store.Path()), pushKeyFile), contact)
	if err != nil {
		d.Log.Error("browsers cannot be told by push", "err", err)
		return nil
	}
	return devices
}

// browserRecipient is all browsers as a recipient: as the config says, or by
// the config's own defaults.
func browserRecipient(devices *notify.Devices, people []notify.Recipient) []notify.Recipient {
	address := func() (string, string, error) { return notify.PushAddress, "", nil }
	for i := range people {
		if people[i].Name == Browsers {
			people[i].Address, people[i].Wanted = address, devices.Any
			return people
		}
	}
	usual := Recipients(&config.Config{Notify: []config.Recipient{config.DefaultRecipient()}})[0]
	usual.Name, usual.Address, usual.Wanted = Browsers, address, devices.Any
	return append(people, usual)
}

// PushKey is the key that a browser must be given.
func (p pageMessages) PushKey() string {
	if p.d.teller == nil || p.d.teller.devices == nil {
		return ""
	}
	return p.d.teller.devices.Key()
}

var errNoPush = &failure.Refusal{Code: "push", Why: "Browsers cannot be told by push here; the daemon's log says why."}

// AddDevice keeps a browser that wants to be told.
func (p pageMessages) AddDevice(ctx context.Context, one web.PushDevice) error {
	if p.PushKey() == "" {
		return errNoPush
	}
	return refusedPush(p.d.teller.devices.Add(ctx, notify.Device{Endpoint: one.Endpoint, P256dh: one.P256dh, Auth: one.Auth, Name: one.Name, Added: p.d.Clock.Now()}))
}

// refusedPush turns what the baker can do something about into a refusal.
func refusedPush(err error) error {
	if errors.Is(err, notify.ErrNoPushAddress) || errors.Is(err, notify.ErrBadKeys) {
		return &failure.Refusal{Code: "push", Why: "The browser's subscription is refused: " + err.Error() + "."}
	}
	return err
}

// RemoveDevice forgets a browser.
func (p pageMessages) RemoveDevice(ctx context.Context, endpoint string) error {
	if p.PushKey() == "" {
		return errNoPush
	}
	return p.d.teller.devices.Remove(ctx, endpoint)
}

// TryPush sends a test to every browser.
func (p pageMessages) TryPush(ctx context.Context) error {
	if p.PushKey() == "" {
		return errNoPush
	}
	var sent error
	err := notify.Try(ctx, p.d.teller.people, Browsers, p.d.teller.opts, func(_ string, err error) { sent = err })
	if sent != nil {
		return &failure.Refusal{Code: "push", Why: "The test was not sent: " + sent.Error() + "."}
	}
	return err
}
