package heating

import (
	"context"
	"log/slog"
	"slices"
	"sync"
	"time"
)

// Meter tells about how much energy the mat has drawn: its on-time, as the
// guard counts it, times the watts that the config says meanwhile. Other watts
// count from then on, and what was counted before stays.
type Meter struct {
	watts float64 // 0: not given

	mu      sync.Mutex    // guards what follows
	totalJ  float64       // altogether
	on      time.Duration // the on-time that was taken in
	Lately  energyLog
	written bool // lately is in the store
}

// energyLog is what the store keeps of the last days.
type energyLog struct {
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
	MeterSpan   = 8 * 24 * time.Hour // a week, and the night before it
	meterState  = "mat-energy"
)

// Note takes in how long the mat has been on altogether.
func (m *Meter) Note(now time.Time, on time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	more := (on - m.on).Seconds() * m.watts
	if m.on = max(m.on, on); !(more > 0) {
		return
	}
	m.totalJ += more
	m.written = false
	n := now.UnixNano() / int64(quarterHour)
	q := m.Lately.Quarters
	if len(q) == 0 || q[len(q)-1].N < n { // a clock that was set back adds to the newest
		q = append(q, quarter{N: n})
	}
	q[len(q)-1].J += more
	old := n - int64(MeterSpan/quarterHour)
	m.Lately.Quarters = slices.DeleteFunc(q, func(x quarter) bool { return x.N < old })
}

// Kept is what the store is to keep; nil when the watts were never given.
func (m *Meter) Kept() *Energy {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.watts == 0 && m.totalJ == 0 {
		return nil
	}
	return &Energy{J: m.totalJ, On: m.on}
}

// Joules returns the energy so far; nil when the watts were never given.
func (m *Meter) Joules() *float64 {
	if e := m.Kept(); e != nil {
		return &e.J
	}
	return nil
}

// Between returns the energy of a time in kWh, and whether all of it was
// counted. Of a quarter of an hour that the time cuts, its share is taken.
func (m *Meter) Between(from, to time.Time) (kWh float64, whole bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	joules := 0.0
	for _, q := range m.Lately.Quarters {
		begin := time.Unix(0, q.N*int64(quarterHour))
		end := begin.Add(quarterHour)
		first, last := Latest(begin, from), Earliest(end, to)
		if share := last.Sub(first).Seconds() / quarterHour.Seconds(); share > 0 {
			joules += share * q.J
		}
	}
	since := m.Lately.Since
	return joules / 3.6e6, !since.IsZero() && !from.Before(since)
}

// Since is from when on nothing is missing; zero when the watts are not known.
func (m *Meter) Since() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.Lately.Since
}

func Latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func Earliest(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// WornTimes is how often a switch has come near the end of a life: once at 80 %
// of it, and, for the one that then took its place, one life later.
func WornTimes(switches uint64, life int) int {
	if life <= 0 {
		return 0
	}
	return int((5*switches + uint64(life)) / uint64(5*life))
}

// SwitchTimes remembers since when the mat is on or off.
type SwitchTimes struct {
	mu    sync.Mutex // guards what follows
	on    bool
	since time.Time
}

// Note takes in how the mat is.
func (m *SwitchTimes) Note(now time.Time, on bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.since.IsZero() || on != m.on {
		m.on, m.since = on, now
	}
}

// Since returns since when it is so.
func (m *SwitchTimes) Since() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.since
}

// OpenMeter takes up counting where the last run ended: the mat was on for so
// long, and kept is what it had drawn by then, if anybody counted.
func OpenMeter(ctx context.Context, watts float64, on time.Duration, kept *Energy, now time.Time, from Store, log *slog.Logger) *Meter {
	m := &Meter{watts: watts, on: on}
	if _, err := from.State(ctx, meterState, &m.Lately); err != nil {
		log.Error("what the mat drew in the last days cannot be read", "err", err)
		m.Lately = energyLog{}
	}
	switch {
	case m.watts == 0:
		m.Lately.Since = time.Time{}
	case m.Lately.Since.IsZero():
		m.Lately.Since = now
	}
	if m.totalJ = m.on.Seconds() * m.watts; kept != nil {
		// What the mat was on since that was kept is counted with the next look.
		m.totalJ, m.on = kept.J, min(m.on, kept.On)
	}
	return m
}

// Save has the store remember the last days.
func (m *Meter) Save(ctx context.Context, to Store, log *slog.Logger) {
	m.mu.Lock()
	due, lately := !m.written, m.Lately
	lately.Quarters = slices.Clone(lately.Quarters)
	m.written = true
	m.mu.Unlock()
	if !due {
		return
	}
	if err := to.SetState(ctx, meterState, lately); err != nil {
		log.Error("what the mat drew in the last days could not be stored", "err", err)
		m.mu.Lock()
		m.written = false
		m.mu.Unlock()
	}
}
