package daemon

import (
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/version"
)

// Greet says what is watched, and what the baker must know first.
func (d *Daemon) Greet(trouble string) {
	if trouble != "" {
		d.Alarms.Raise(d.Clock.Now(), event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.SettingsUndone}, event.AlarmText{Text: trouble})
	}
	d.Log.Info("leavend watches", "version", version.Version, "vessels", len(d.Vessels), "sensors", len(d.Conf.Sensors))
	if len(d.Vessels) == 0 {
		d.Log.Info("nothing is set up yet; open the page and follow it", "page", d.Conf.Web.Listen)
	}
}
