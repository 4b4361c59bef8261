package control

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"
)

// world is one small kitchen for the exhaustive search: limits of a few
// seconds, some probes, and everything that may happen in it.
type world struct {
	name   string
	l      limits
	start  guardState
	events []event
	jumps  []time.Duration // how far time may move with a tick
}

// smallLimits keep the orders of the real limits and squeeze their sizes, so
// that every combination of ages can be visited.
func smallLimits() limits {
	l := newLimits(Opts{
		SetpointC: 25, VesselCutoffC: 30, MatCutoffC: 40,
		Stale: 3 * time.Second, Lease: 2 * time.Second, MinOff: 2 * time.Second,
		MaxOn: 5 * time.Second, Rest: 2 * time.Second, MaxDuty: 0.5, GoodReadings: 2,
		GainTime: 4 * time.Second, Trial: 3 * time.Second, Look: 2 * time.Second, DoubtRest: time.Second,
		StuckC: 26, StuckAfter: 3 * time.Second,
		DisagreeC: 3, MaxSlopeC: 5, OnSwitchesPerHour: 6,
	})
	l.bucket, l.buckets, l.cycle, l.mostFails = 4*time.Second, 3, 4*time.Second, 2
	return l
}

// worlds returns the kitchens that are searched. Together they hold every
// kind of event, place and fault.
func worlds() []world {
	at := func(places ...Place) (p [maxProbes]probe) {
		for i, place := range places {
			p[i] = probe{place: place, relied: place != AtRoom}
		}
		return p
	}
	say := func(i int, temps ...float64) (e []event) {
		for _, c := range temps {
			e = append(e, event{kind: evReading, probe: i, tempC: c})
		}
		return e
	}
	wish := []event{{kind: evWish, wish: true}, {kind: evWish}}
	says := func(all ...evidence) (e []event) {
		for _, said := range all {
			e = append(e, event{kind: evWish, wish: true, said: said})
		}
		return e
	}
	join := func(parts ...[]event) (all []event) {
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	// make builds a world that leaves out what it is not about: no duty, no
	// gain and no stuck switch, unless tune puts them back.
	make := func(name string, tune func(*limits), probes [maxProbes]probe, events ...[]event) world {
		w := world{name: name, l: smallLimits(), events: join(events...), jumps: []time.Duration{time.Second}}
		w.l.MaxDuty, w.l.buckets = 1, 1
		w.l.GainTime, w.l.StuckAfter = time.Hour, time.Hour
		w.start = guardState{mode: Hold, setpointC: 25, wish: true, probes: probes}
		if tune != nil {
			tune(&w.l)
		}
		return w
	}
	true1 := smallLimits()
	stall := func(w world) world { w.jumps = append(w.jumps, 2*time.Second, 4*time.Second); return w }
	return []world{
		stall(make("readings, good and impossible", nil, at(AtVessel), wish,
			say(0, 20, 31, 85, math.NaN(), math.Inf(1)), []event{{kind: evFailed, probe: 0}, {kind: evAck}})),
		stall(make("modes, writes and the end", nil, at(AtVessel), say(0, 20), wish, []event{
			{kind: evMode, mode: Hold}, {kind: evMode, mode: Off}, {kind: evWrote}, {kind: evWriteFailed}, {kind: evClose}})),
		make("duty of a day", func(l *limits) { l.MaxDuty, l.buckets = true1.MaxDuty, true1.buckets }, at(AtVessel), wish, say(0, 20)),
		make("doubt, whatever the model says", func(l *limits) {
			l.GainTime, l.Trial, l.cycle, l.Stale = 3*time.Second, 2*time.Second, time.Second, 2*time.Second
			l.MinOff, l.GoodReadings, l.Lease, l.MaxOn = time.Second, 1, time.Second, time.Hour
		}, at(AtVessel), wish, say(0, 20, 25), says(answers, deaf, spent, answers|agrees, moved, due|likelier), []event{{kind: evAck}}),
		make("a stuck switch", func(l *limits) { l.StuckAfter, l.Stale = true1.StuckAfter, 2*time.Second }, at(AtVessel), wish,
			say(0, 22, 26.5, 28), []event{{kind: evMode, mode: Off}, {kind: evMode, mode: Hold}, {kind: evAck}}),
		make("a room that warms", func(l *limits) { l.StuckAfter, l.Stale = 2*time.Second, 2*time.Second }, at(AtVessel, AtRoom),
			say(0, 24, 28), say(1, 15, 28), []event{{kind: evFailed, probe: 1}}),
		make("vessel and mat", func(l *limits) { l.Stale, l.GoodReadings = 2*time.Second, 1 }, at(AtVessel, AtMat), say(0, 22), say(1, 38, 41),
			[]event{{kind: evAck}, {kind: evSetpoint, setpointC: 29}, {kind: evSetpoint, setpointC: 25}}),
		make("two vessel probes", func(l *limits) { l.Stale, l.GoodReadings = 2*time.Second, 1 }, at(AtVessel, AtVessel), say(0, 20, 22), say(1, 20, 24)),
	}
}

// key is a state as a search sees it: ages instead of times, and no ages past
// the point where they matter.
func (w *world) key(s *guardState) (k stateKey) {
	b := keyWriter{k: &k}
	age := func(t, most time.Duration) {
		b.put(byte(min((s.now-t)/time.Second, most/time.Second+1)))
	}
	left := func(t time.Duration) { b.put(byte(max((t-s.now)/time.Second, -1) + 1)) }
	flags := 0
	for i, f := range []bool{s.started, s.closed, s.mode == Hold, s.wish, s.on, s.unknown, s.everOn, s.resting} {
		if f {
			flags |= 1 << i
		}
	}
	b.put(byte(flags))
	b.put(byte(s.latched))
	b.put(byte(s.setpointC))
	for i := range s.probes {
		p := &s.probes[i]
		if p.place == "" {
			break
		}
		hot := map[bool]int{true: 64}[p.hot]
		odd := map[bool]int{true: 128}[p.odd && s.now-p.oddAt < w.l.Stale]
		b.put(byte(p.good | hot | odd))
		if odd != 0 {
			b.put(byte(p.oddC * 2))
			age(p.oddAt, w.l.Stale)
		}
		if p.has {
			b.put(byte(p.tempC * 2))
			age(p.at, w.l.Stale)
		}
	}
	if s.on {
		left(s.leaseEnd)
	}
	b.put(byte(s.run / (500 * time.Millisecond)))
	age(s.offSince, max(w.l.MinOff, min(w.l.StuckAfter, time.Minute)))
	if s.everOn {
		age(s.lastOn, w.l.cycle)
	}
	left(s.writeAt)
	if s.resting {
		left(s.restEnd)
	}
	if w.l.MaxDuty < 1 {
		b.put(byte(s.now % w.l.bucket / time.Second))
		for i := range int64(w.l.buckets) {
			b.put(byte(s.onTime[(s.bucketN+int64(w.l.buckets)-i)%int64(w.l.buckets)] / time.Second))
		}
	}
	if d := s.doubt; w.l.GainTime < time.Hour {
		b.put(byte(min(d.on, w.l.GainTime) / time.Second))
		b.put(byte(d.phase)<<6 | byte(d.tries)<<4 | byte(d.fails)<<1 | map[bool]byte{true: 1}[d.spent])
		b.put(byte(max((d.until-s.now)/time.Second, -w.l.Look/time.Second) + 8))
		b.put(byte(max((d.wary-s.now)/time.Second, -1)+1)<<2 | byte(d.past))
	}
	if w.l.StuckAfter < time.Hour && s.stuck.armed {
		b.put(byte(s.stuck.topC * 2))
		age(s.stuck.since, w.l.StuckAfter)
	}
	return k
}

// stateKey is a state as a map's key.
type stateKey [64]byte

// keyWriter fills a key.
type keyWriter struct {
	k *stateKey
	n int
}

// put appends to the key; one that is too short fails loudly.
func (w *keyWriter) put(b byte) { w.k[w.n] = b; w.n++ }

// found counts what a search has seen.
type found struct {
	states, steps, on int
	latches           latch
	reasons           map[Reason]bool
}

// search visits every state that can be reached and checks
// every invariant on every step. The guard runs under w.l; the invariants
// hold it to truth, which differs only where a test has spoilt the guard.
func (w *world) search(truth *limits, most int) (found, error) {
	f := found{reasons: make(map[Reason]bool)}
	all := invariants()
	t := new(transition)
	seen := map[stateKey]bool{w.key(&w.start): true}
	queue := []guardState{w.start}
	for len(queue) > 0 && f.states < most {
		s := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		f.states++
		t.before = s
		visit := func(e event, now time.Duration) error {
			t.event, t.now = e, now
			t.after, t.cmd = step(&w.l, s, e, now)
			after, cmd := &t.after, t.cmd
			f.steps++
			f.latches |= after.latched
			f.reasons[cmd.reason] = true
			if cmd.on {
				f.on++
			}
			if err := violated(truth, all, t); err != nil {
				return err
			}
			if k := w.key(after); !seen[k] {
				seen[k] = true
				queue = append(queue, *after)
			}
			return nil
		}
		for _, e := range w.events {
			if err := visit(e, s.now); err != nil {
				return f, err
			}
			if e.kind != evFailed {
				continue
			}
			// A failure may also be the first thing that is heard in a second.
			if err := visit(e, s.now+time.Second); err != nil {
				return f, err
			}
		}
		for _, dt := range w.jumps {
			if err := visit(event{kind: evTick}, s.now+dt); err != nil {
				return f, err
			}
		}
		if err := visit(event{kind: evTick}, s.now-2*time.Second); err != nil {
			return f, err
		}
	}
	if len(queue) > 0 {
		return f, fmt.Errorf("more than %d states", most)
	}
	return f, nil
}

// TestGuardExhaustive is the proof: over every reachable state of three small
// kitchens, all invariants hold on every step.
func TestGuardExhaustive(t *testing.T) {
	if raceEnabled {
		t.Skip("the guard is a pure function; the search has nothing to race")
	}
	var all latch
	reasons := make(map[Reason]bool)
	states, steps := 0, 0
	for _, w := range worlds() {
		began := time.Now()
		f, err := w.search(&w.l, 3_000_000)
		if err != nil {
			t.Fatalf("%s: %v", w.name, err)
		}
		t.Logf("%-32s %8d states, %9d steps, %8d of them on, %s", w.name, f.states, f.steps, f.on, time.Since(began).Round(time.Millisecond))
		if f.on == 0 {
			t.Errorf("%s: the mat was never on: nothing was proved", w.name)
		}
		states, steps, all = states+f.states, steps+f.steps, all|f.latches
		for r := range f.reasons {
			reasons[r] = true
		}
	}
	t.Logf("%-32s %8d states, %9d steps", "together", states, steps)
	if want := latchVesselCutoff | latchMatCutoff | latchStuckOn; all != want {
		t.Errorf("the search latched %b, want %b", all, want)
	}
	for _, r := range []Reason{ReasonClosed, ReasonMode, ReasonFault, ReasonOutput, ReasonFewReadings, ReasonStale,
		ReasonSuspect, ReasonSetpoint, ReasonDisagree, ReasonRest, ReasonDuty, ReasonLapsed, ReasonMinOff, ReasonLooking, ReasonNoGain} {
		if !reasons[r] {
			t.Errorf("the search never gave the reason %s", r)
		}
	}
}

// home is the world in which a rule's absence shows soonest.
func home(n int) int {
	switch n {
	case 1, 2, 3, 8, 9:
		return 0
	case 11, 12:
		return 1
	case 5:
		return 2
	case 6:
		return 3
	case 7:
		return 4
	case 13:
		return 4
	case 16:
		return 5
	case 14:
		return 7
	}
	return 0
}

// TestEachRuleIsNeeded takes the rules out one by one. A guard without a rule
// must break the invariant of its number, or the rule, or its test, is idle.
func TestEachRuleIsNeeded(t *testing.T) {
	if raceEnabled {
		t.Skip("see TestGuardExhaustive")
	}
	for i, r := range allRules() {
		t.Run(fmt.Sprintf("without rule %d, %s", r.n, r.name), func(t *testing.T) {
			mutant(t, r.n, home(r.n), func(l *limits) { l.rules = append(allRules()[:i:i], allRules()[i+1:]...) })
		})
	}
}

// TestEachLimitIsTight loosens the guard's limits one by one by the least
// step: the invariants, held to the true limit, must notice.
func TestEachLimitIsTight(t *testing.T) {
	if raceEnabled {
		t.Skip("see TestGuardExhaustive")
	}
	s := time.Second
	for _, m := range []struct {
		name   string
		n      int
		world  int
		loosen func(*limits)
	}{
		{"stale", 1, 0, func(l *limits) { l.Stale += s }},
		{"lease", 4, 0, func(l *limits) { l.Lease += s }},
		{"min off", 9, 0, func(l *limits) { l.MinOff -= s }},
		{"cycle", 9, 0, func(l *limits) { l.cycle -= s }},
		{"max on", 5, 0, func(l *limits) { l.MaxOn += s }},
		{"duty", 5, 2, func(l *limits) { l.MaxDuty += 0.1 }},
		{"good readings", 8, 0, func(l *limits) { l.GoodReadings-- }},
		{"vessel cutoff", 2, 0, func(l *limits) { l.VesselCutoffC += 2 }},
		{"mat cutoff", 2, 6, func(l *limits) { l.MatCutoffC += 2 }},
		{"gain time", 6, 3, func(l *limits) { l.GainTime += s }},
		{"trial", 6, 3, func(l *limits) { l.Trial += s }},
		{"look", 6, 3, func(l *limits) { l.Look -= s }},
		{"doubt's rest", 6, 3, func(l *limits) { l.DoubtRest -= s }},
		{"disagree", 14, 7, func(l *limits) { l.DisagreeC += 2 }},
		{"slope", 3, 0, func(l *limits) { l.MaxSlopeC = 20 }},
		{"stuck", 13, 4, func(l *limits) { l.StuckC += 2 }},
		{"stuck after", 13, 4, func(l *limits) { l.StuckAfter += s }},
	} {
		t.Run(m.name, func(t *testing.T) { mutant(t, m.n, m.world, m.loosen) })
	}
}

// mutant searches a world with a spoilt guard until an invariant breaks.
func mutant(t *testing.T, n, world int, spoil func(*limits)) {
	t.Helper()
	w := worlds()[world]
	truth := w.l
	spoil(&w.l)
	f, err := w.search(&truth, 200_000)
	var b *broken
	switch {
	case !errors.As(err, &b):
		t.Errorf("no invariant noticed in %d states (%v)", f.states, err)
	case b.n != n:
		t.Errorf("noticed by invariant %d, want %d", b.n, n)
	}
}
