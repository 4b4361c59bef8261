package backend

import (
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/web"
)

// Watch tells what is so at this moment.
type Watch struct {
	m     *monitor.Monitor
	o     Opts
	mats  Mats
	ready ReadyBy
}

// Setup is how the daemon's parts do.
func (w Watch) Setup(language string) web.Setup { return w.o.Setup(language) }

// Now is everything the page shows at a glance.
func (w Watch) Now() web.Snapshot {
	k := web.Snapshot{At: w.m.Clock.Now(), Zone: zoneName(w.m.Conf.Timezone), Demo: w.o.Demo}
	for _, v := range w.m.Vessels {
		k.Vessels = append(k.Vessels, w.vessel(v))
	}
	if w.o.Heat.Mat != nil {
		k.Mats = []web.Mat{w.mats.mat()}
	}
	k.Asks = w.o.Asks()
	for _, f := range w.m.Alarms.Active() {
		if f.Key.Subject == event.SubjectDaemon {
			k.Notices = append(k.Notices, web.Notice{Code: string(f.Key.Reason), Text: f.Say.In(w.m.Conf.Reader()), TextSay: f.Say, Since: f.Since})
		}
	}
	return k
}

// zoneName is the time zone's name for a browser; it knows no "Local".
func zoneName(l *time.Location) string {
	if name := l.String(); name != "Local" {
		return name
	}
	return ""
}

// vessel is one vessel as the page shows it.
func (w Watch) vessel(v *monitor.Vessel) web.Vessel {
	s := v.Status(w.m.Clock.Now())
	out := web.VesselOf(s, w.m.Conf.Reader())
	if s.Forecast != nil && s.Forecast.Source == monitor.OwnCurve {
		out.Forecast.Fan = web.FanOf(v.Fan())
	}
	if s.OnMat {
		out.Mat = event.SubjectMat
	}
	out.TargetTime = w.ready.targetTime(s.ID)
	return out
}
