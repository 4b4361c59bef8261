package daemon

import (
	"net"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
)

// Greet says what is watched, and what the baker must know first.
func (d *Daemon) Greet(trouble text.Message) {
	if !trouble.IsZero() {
		d.Alarms.Raise(d.Clock.Now(), event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.SettingsUndone}, event.AlarmText{Say: trouble})
	}
	d.Log.Info("leavend watches", "version", version.Version, "vessels", len(d.Vessels), "sensors", len(d.Conf.Sensors))
	if len(d.Vessels) == 0 {
		d.Log.Info("nothing is set up yet; open the page and follow it", "page", d.Conf.Web.Listen)
	}
}

// Addresses are where the daemon listens; "" where it does not.
type Addresses struct{ Page, Metrics, Broker string }

// Addresses returns where the daemon listens.
func (d *Daemon) Addresses() (at Addresses) {
	name := func(a net.Addr) string {
		if a == nil {
			return ""
		}
		return a.String()
	}
	if d.pagePort != nil {
		at.Page = name(d.pagePort.Addr())
	}
	if d.metricsPort != nil {
		at.Metrics = name(d.metricsPort.Addr())
	}
	if d.broker != nil {
		at.Broker = name(d.broker.Address())
	}
	return at
}
