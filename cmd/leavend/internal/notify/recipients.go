package notify

import (
	"context"
	"path/filepath"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/monitor"
)

// OptsOf are the choices that the config makes.
func OptsOf(c *config.Config) Opts {
	return Opts{Renderer: Renderer{Reader: c.Reader()}}
}

// Recipients are those of the config, as the notifier knows them.
func Recipients(c *config.Config) []Recipient {
	var all []Recipient
	for _, r := range c.Notify {
		all = append(all, Recipient{Recipient: r, Address: func() (address, key string, err error) {
			if address, err = r.URL.Reveal(); err == nil && r.Key.IsSet() {
				key, err = r.Key.Reveal()
			}
			return address, key, err
		}})
	}
	return all
}

// Browsers is the name of the recipient that is every browser which asked to
// be told. A [[notify]] of this name says what they are told, and when.
const Browsers = "browsers"

// PushKeyFile is the name of the file beside the store that holds the daemon's
// key pair for browser push.
const PushKeyFile = "push-key.json"

// openDevices opens what browser push needs. Without it everything else goes
// on: it is one way of telling among several.
func openDevices(ctx context.Context, m *monitor.Monitor) *Devices {
	if !m.Conf.Web.On {
		return nil
	}
	contact := m.Conf.Web.PageAddress()
	if !strings.HasPrefix(contact, "https://") {
		contact = "https://leavend.invalid" // RFC 8292 wants some address; a push service asks for it when we misbehave
	}
	devices, err := OpenDevices(ctx, m.Store.States, filepath.Join(filepath.Dir(m.Store.Path()), PushKeyFile), contact)
	if err != nil {
		m.Log.Error("browsers cannot be told by push", "err", err)
		return nil
	}
	return devices
}

// browserRecipient is all browsers as a recipient: as the config says, or by
// the config's own defaults.
func browserRecipient(devices *Devices, people []Recipient) []Recipient {
	address := func() (string, string, error) { return PushAddress, "", nil }
	for i := range people {
		if people[i].Name == Browsers {
			people[i].Address, people[i].Wanted = address, devices.Any
			return people
		}
	}
	usual := Recipient{Recipient: config.DefaultRecipient(), Address: address, Wanted: devices.Any}
	usual.Name = Browsers
	return append(people, usual)
}
