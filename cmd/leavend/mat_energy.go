package main

import (
	"context"
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/web"
)

// meter tells about how much energy the mat has drawn: its on-time, as the
// guard counts it, times the watts that the config says meanwhile. Other watts
// count from then on, and what was counted before stays.
type meter struct {
	watts float64 // 0: nobody said

	mu      sync.Mutex    // guards what follows
	totalJ  float64       // altogether
	on      time.Duration // the on-time that was taken in
	lately  meterMemory
	written bool // lately is in the store
}

// meterMemory is what the store keeps of the last days.
type meterMemory struct {
	Since    time.Time `json:"since,omitzero"` // from then on nothing is missing; zero: the watts are not known
	Quarters []quarter `json:"quarters,omitempty"`
}

// quarter is a quarter of an hour in which the mat heated.
type quarter struct {
	N int64   `json:"n"` // quarters of an hour since 1970
	J float64 `json:"j"`
}

const (
	quarterHour = 15 * time.Minute
	meterSpan   = 8 * 24 * time.Hour // a week, and the night before it
	meterState  = "mat-energy"
)

// openMeter takes up counting where the last run ended.
func (d *daemon) openMeter(ctx context.Context) {
	m := &meter{watts: d.Conf.Mat.Watts, on: d.warm.State().OnTotal}
	d.meter = m
	if _, err := d.Store.State(ctx, meterState, &m.lately); err != nil {
		d.Log.Error("what the mat drew of late cannot be read", "err", err)
		m.lately = meterMemory{}
	}
	switch {
	case m.watts == 0:
		m.lately.Since = time.Time{}
	case m.lately.Since.IsZero():
		m.lately.Since = d.Clock.Now()
	}
	if m.totalJ = m.on.Seconds() * m.watts; d.keeper.Memory().Energy != nil {
		// What the mat was on since that was kept is counted with the next look.
		kept := d.keeper.Memory().Energy
		m.totalJ, m.on = kept.J, min(m.on, kept.On)
	}
}

// Note takes in how long the mat has been on altogether.
func (m *meter) Note(now time.Time, on time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	more := (on - m.on).Seconds() * m.watts
	if m.on = max(m.on, on); !(more > 0) {
		return
	}
	m.totalJ += more
	m.written = false
	n := now.UnixNano() / int64(quarterHour)
	q := m.lately.Quarters
	if len(q) == 0 || q[len(q)-1].N < n { // a clock that was set back adds to the newest
		q = append(q, quarter{N: n})
	}
	q[len(q)-1].J += more
	old := n - int64(meterSpan/quarterHour)
	m.lately.Quarters = slices.DeleteFunc(q, func(x quarter) bool { return x.N < old })
}

// Kept is what the store is to keep; nil when nobody ever said the watts.
func (m *meter) Kept() *heating.Energy {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.watts == 0 && m.totalJ == 0 {
		return nil
	}
	return &heating.Energy{J: m.totalJ, On: m.on}
}

// Metered returns the energy so far in joules; nil when nobody ever said the
// watts.
func (m *meter) Metered() *float64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.watts == 0 && m.totalJ == 0 {
		return nil
	}
	total := m.totalJ
	return &total
}

// Between returns the energy of a time in kWh, and whether all of it was
// counted. Of a quarter of an hour that the time cuts, its share is taken.
func (m *meter) Between(from, to time.Time) (kWh float64, whole bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	joules := 0.0
	for _, q := range m.lately.Quarters {
		begin := time.Unix(0, q.N*int64(quarterHour))
		end := begin.Add(quarterHour)
		first, last := latest(begin, from), earliest(end, to)
		if share := last.Sub(first).Seconds() / quarterHour.Seconds(); share > 0 {
			joules += share * q.J
		}
	}
	since := m.lately.Since
	return joules / 3.6e6, !since.IsZero() && !from.Before(since)
}

// Since is from when on nothing is missing; zero when the watts are not known.
func (m *meter) Since() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.lately.Since
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earliest(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// keepMeter has the store remember the last days.
func (d *daemon) keepMeter(ctx context.Context) {
	if d.meter == nil {
		return
	}
	d.meter.mu.Lock()
	due, lately := !d.meter.written, d.meter.lately
	lately.Quarters = slices.Clone(lately.Quarters)
	d.meter.written = true
	d.meter.mu.Unlock()
	if !due {
		return
	}
	if err := d.Store.SetState(ctx, meterState, lately); err != nil {
		d.Log.Error("what the mat drew of late could not be stored", "err", err)
		d.meter.mu.Lock()
		d.meter.written = false
		d.meter.mu.Unlock()
	}
}

// The night as the page counts it, by the kitchen's clock.
const nightFrom, nightHours = 20, 12

// energy is what the page shows of the meter: the last day, the last night, and
// since the vessel on the mat was fed.
func (p *pageHouse) energy(now time.Time) []web.Energy {
	var out []web.Energy
	since := p.d.meter.Since()
	if since.IsZero() {
		return out
	}
	add := func(what web.EnergyOf, from, to time.Time) {
		to = earliest(to, now)
		if kWh, whole := p.d.meter.Between(from, to); whole {
			out = append(out, web.Energy{Of: what, From: from, To: to, KWh: web.Real(kWh)})
		}
	}
	add(web.EnergyDay, latest(now.Add(-24*time.Hour), since), now)
	local := now.In(p.d.Conf.Timezone)
	evening := time.Date(local.Year(), local.Month(), local.Day(), nightFrom, 0, 0, 0, local.Location())
	if evening.After(now) {
		evening = time.Date(local.Year(), local.Month(), local.Day()-1, nightFrom, 0, 0, 0, local.Location())
	}
	add(web.EnergyNight, evening, evening.Add(nightHours*time.Hour))
	if v := p.d.Vessel(p.d.warm.vessel); v != nil {
		if fed := v.View().Status.FedAt; !fed.IsZero() && now.Sub(fed) < meterSpan {
			add(web.EnergyFeed, fed, now)
		}
	}
	return out
}
