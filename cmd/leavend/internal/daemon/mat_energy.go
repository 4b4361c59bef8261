package daemon

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/web"
)

// OpenMeter takes up counting where the last run ended.
func (d *Daemon) openMeter(ctx context.Context) {
	d.meter = heating.OpenMeter(ctx, d.Conf.Mat.Watts, d.Warm.State().OnTotal, d.keeper.Memory().Energy, d.Clock.Now(), d.Store, d.Log)
}

// keepMeter has the store remember the last days.
func (d *Daemon) keepMeter(ctx context.Context) {
	if d.meter != nil {
		d.meter.Save(ctx, d.Store, d.Log)
	}
}

// The night as the page counts it, by the kitchen's clock.
const nightFrom, nightHours = 20, 12

// energy is what the page shows of the meter: the last day, the last night, and
// since the vessel on the mat was fed.
func (p *PageHouse) energy(now time.Time) []web.Energy {
	var out []web.Energy
	since := p.D.meter.Since()
	if since.IsZero() {
		return out
	}
	add := func(what web.EnergyOf, from, to time.Time) {
		to = heating.Earliest(to, now)
		if kWh, whole := p.D.meter.Between(from, to); whole {
			out = append(out, web.Energy{Of: what, From: from, To: to, KWh: web.Real(kWh)})
		}
	}
	add(web.EnergyDay, heating.Latest(now.Add(-24*time.Hour), since), now)
	local := now.In(p.D.Conf.Timezone)
	evening := time.Date(local.Year(), local.Month(), local.Day(), nightFrom, 0, 0, 0, local.Location())
	if evening.After(now) {
		evening = time.Date(local.Year(), local.Month(), local.Day()-1, nightFrom, 0, 0, 0, local.Location())
	}
	add(web.EnergyNight, evening, evening.Add(nightHours*time.Hour))
	if v := p.D.Vessel(p.D.Warm.Vessel); v != nil {
		if fed := v.Observed().Status.FedAt; !fed.IsZero() && now.Sub(fed) < heating.MeterSpan {
			add(web.EnergyFeed, fed, now)
		}
	}
	return out
}
