package daemon

import (
	"fmt"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/control"
	"leavend/sensor/sim"
)

// watchedJar knows what is true of a jar, and what the daemon said of it.
type watchedJar struct {
	name, slug string
	feeds      []sim.Feed // At counts from the start of the soak
	course     []spot     // the true height, once a minute
	calls      []time.Duration
	found      []time.Duration
}

// spot is a true height at a moment of the soak.
type spot struct {
	at       time.Duration
	heightMM float64
}

func newWatchedJar(v sim.VesselOpts, length time.Duration) *watchedJar {
	j := &watchedJar{name: v.Name, slug: config.Slug(v.Name)}
	// All is reserved beforehand, so that the watcher's own memory does not
	// look like the daemon's.
	j.course = make([]spot, 0, int(length/time.Minute)+1)
	j.calls, j.found = make([]time.Duration, 0, 200), make([]time.Duration, 0, 200)
	for _, f := range v.Feeds {
		f.At -= time.Hour // the kitchen opens an hour into its story
		j.feeds = append(j.feeds, f)
	}
	return j
}

// look notes the true height.
func (j *watchedJar) look(s *soak, at time.Duration) {
	if n := len(j.course); n > 0 && at-j.course[n-1].at < time.Minute {
		return
	}
	state, err := s.kitchen.State(j.name)
	if err != nil {
		s.Fatal(err)
	}
	j.course = append(j.course, spot{at, state.HeightMM})
}

// hear notes what the daemon said, when it said it.
func (j *watchedJar) hear(e event.Event, at time.Duration) {
	switch {
	case e.Kind == event.Peak:
		j.calls = append(j.calls, at)
	case e.Kind == event.Fed && e.Detected.Source == "found":
		j.found = append(j.found, at)
	}
}

// jarResult is what became of a jar's feeds.
type jarResult struct{ feeds, tops, called, onTop, twice, silent, found int }

func (r jarResult) String() string {
	return fmt.Sprintf("%d feeds, %d tops, %d called (%d on top), %d twice, %d of %d silent feeds found", r.feeds, r.tops, r.called, r.onTop, r.twice, r.found, r.silent)
}

// result goes through the feeds. A feed whose top was not seen to fall before
// the next feed or the end has none.
func (j *watchedJar) result() (r jarResult) {
	for i, f := range j.feeds {
		end := j.course[len(j.course)-1].at
		if i+1 < len(j.feeds) {
			end = min(end, j.feeds[i+1].At-j.feeds[i+1].Away)
		}
		if f.At >= end {
			break
		}
		r.feeds++
		within := func(at time.Duration) bool { return at >= f.At && at < end }
		if f.Silent {
			r.silent++
			if slices.ContainsFunc(j.found, within) {
				r.found++
			}
		}
		lo, hi, ok := j.top(f.At, end)
		if !ok {
			continue
		}
		r.tops++
		calls := slices.DeleteFunc(slices.Clone(j.calls), func(at time.Duration) bool { return !within(at) })
		if len(calls) == 0 {
			continue
		}
		r.called++
		if len(calls) > 1 {
			r.twice++
		}
		if calls[0] >= lo-time.Minute && calls[0] <= hi+time.Minute {
			r.onTop++
		}
	}
	return r
}

// top returns from when to when the jar stood within 2 % of its rise, at least
// 1 mm, of its greatest height; ok is false when it did not rise by 8 mm or
// did not fall by a tenth of its rise.
func (j *watchedJar) top(from, to time.Duration) (lo, hi time.Duration, ok bool) {
	var part []spot
	for _, p := range j.course {
		if p.at >= from && p.at < to {
			part = append(part, p)
		}
	}
	if len(part) == 0 {
		return 0, 0, false
	}
	best := 0
	for i, p := range part {
		if p.heightMM > part[best].heightMM {
			best = i
		}
	}
	rise := part[best].heightMM - part[0].heightMM
	band := part[best].heightMM - max(1, 0.02*rise)
	a, b := best, best
	for a > 0 && part[a-1].heightMM >= band {
		a--
	}
	for b+1 < len(part) && part[b+1].heightMM >= band {
		b++
	}
	fell := part[best].heightMM - part[len(part)-1].heightMM
	return part[a].at, part[b].at, rise >= 8 && fell >= 0.1*rise
}

// watchedMat knows what the mat truly did.
type watchedMat struct {
	looked       time.Duration              // when it was looked at last
	blindOn      time.Duration              // since when it heats though its probe is gone; 0 if it does not
	hottestC     float64                    // of the vessel while switch and probe were sound, and had been for three hours
	hotBy        map[sim.Kind]float64       // of the vessel while, or soon after, the switch was welded, the probe out or still
	broken       map[sim.Kind]time.Duration // when that was last so
	faults       int
	open         map[event.AlarmKey]bool
	acknowledged int
	nextVisit    time.Duration
	sins         []string
}

// going reports whether something is going on at the mat's jar.
func (m *watchedMat) going(s *soak, kinds ...sim.Kind) bool {
	state, err := s.kitchen.State(sim.Bramble)
	if err != nil {
		s.Fatal(err)
	}
	return slices.ContainsFunc(state.Going, func(e sim.Event) bool { return slices.Contains(kinds, e.Kind) })
}

// welded reports whether the switch itself is broken.
func (m *watchedMat) welded(s *soak) bool { return m.going(s, sim.MatWelded) }

// tooLong is how long a mat may heat without a reading here: the limit of the
// config and a lease, twice, for at this speed a busy machine makes minutes of
// a moment.
const tooLong = 15 * time.Minute

// look watches the mat, and acknowledges its faults now and then as a baker
// does.
func (m *watchedMat) look(s *soak, at time.Duration) {
	state, err := s.kitchen.State(sim.Bramble)
	if err != nil {
		s.Fatal(err)
	}
	welded := slices.ContainsFunc(state.Going, func(e sim.Event) bool { return e.Kind == sim.MatWelded })
	blind := slices.ContainsFunc(state.Going, func(e sim.Event) bool { return e.Kind == sim.ProbeGone || e.Kind == sim.ProbeAt85 })
	unseen := at-m.looked > time.Minute // what it did meanwhile is not known
	m.looked = at
	switch {
	case !blind || welded || state.PowerW == 0 || unseen:
		m.blindOn = 0
	case m.blindOn == 0:
		m.blindOn = at
	case at-m.blindOn > tooLong:
		m.sins = append(m.sins, fmt.Sprintf("after %v it heated for %v without a reading", at, at-m.blindOn))
		m.blindOn = 0
	}
	m.feel(state, at)
	if at < m.nextVisit {
		return
	}
	m.nextVisit = at + 30*time.Minute
	latched := slices.ContainsFunc(s.daemon.Mat.State().Faults, func(f control.Fault) bool { return f.Latched })
	if latched && s.daemon.Mat.Acknowledge(s.daemon.Clock.Now()) == nil {
		m.acknowledged++
	}
}

// feel notes how hot the vessel is, and what may have made it so: a switch that
// is welded heats whatever is asked, and a probe that has fallen out, or stands
// still, deceives until the guard misses the gain.
func (m *watchedMat) feel(state sim.State, at time.Duration) {
	if m.hotBy == nil {
		m.hotBy, m.broken = map[sim.Kind]float64{}, map[sim.Kind]time.Duration{}
	}
	for _, e := range state.Going {
		if e.Kind == sim.MatWelded || e.Kind == sim.ProbeOut || e.Kind == sim.ProbeStuck {
			m.broken[e.Kind] = at
		}
	}
	sound := true
	for kind, last := range m.broken {
		if at-last < 3*time.Hour {
			sound = false
			m.hotBy[kind] = max(m.hotBy[kind], state.VesselC)
		}
	}
	if sound {
		m.hottestC = max(m.hottestC, state.VesselC)
	}
}

// hear counts the mat's faults.
func (m *watchedMat) hear(e event.Event) {
	if m.open == nil {
		m.open = map[event.AlarmKey]bool{}
	}
	switch e.Kind {
	case event.AlarmRaised:
		m.faults++
		m.open[e.Alarm] = true
	case event.AlarmCleared:
		delete(m.open, e.Alarm)
	}
}

func (m *watchedMat) String() string {
	return fmt.Sprintf("%d faults told, %d acknowledged, %d open at the end; vessel at most %.1f °C, %.1f °C with its switch welded, %.1f °C with its probe fallen out, %.1f °C with its probe standing still",
		m.faults, m.acknowledged, len(m.open), m.hottestC, m.hotBy[sim.MatWelded], m.hotBy[sim.ProbeOut], m.hotBy[sim.ProbeStuck])
}

func (m *watchedMat) check(s *soak) {
	s.Helper()
	for _, sin := range m.sins {
		s.Errorf("the mat: %s", sin)
	}
	if m.hottestC > s.conf.Mat.CutoffVesselC+1 {
		s.Errorf("the vessel came to %.1f °C, its cutoff is %.1f °C", m.hottestC, s.conf.Mat.CutoffVesselC)
	}
}
