package control

import "time"

// limits is what the guard is told once: the settings, and the rules in
// force. Tests take rules out to show that each is needed.
type limits struct {
	Opts
	rules      []rule
	bucket     time.Duration // length of one bucket of the duty window
	buckets    int           // how many of them make the window
	cycle      time.Duration // shortest time from one on-switch to the next
	renewEvery int           // a lease is renewed when this fraction of it has passed
	mostFails  int           // how often in a row a rest of doubt grows
	payBack    float64       // on-time that a pause of the same length makes good
	budget     float64       // level that the thermal image may reach
}

// shortestLease is the shortest permission worth giving: plugs count whole
// seconds.
const shortestLease = time.Second

// maxBuckets bounds the duty window's memory: 48 half hours are a day.
const maxBuckets = 48

// newLimits derives the guard's limits from settings that were checked.
func newLimits(o Opts) limits {
	return limits{
		Opts:       o,
		rules:      allRules(),
		bucket:     24 * time.Hour / maxBuckets,
		buckets:    maxBuckets,
		cycle:      time.Hour / time.Duration(o.OnSwitchesPerHour),
		renewEvery: 8, // so that one lost message costs a plug nothing
		mostFails:  mostFails,
		payBack:    o.MaxOn.Seconds() / o.Rest.Seconds(),
		budget:     o.budget(),
	}
}

// probe is what the guard remembers of one probe.
type probe struct {
	place  Place
	relied bool          // the mat depends on it: vessel and mat probes, and those that were announced
	has    bool          // a reading was accepted
	at     time.Duration // when the last one was
	tempC  float64       // and what it said
	good   int           // accepted in a row, counted up to GoodReadings
	hot    bool          // the last value was not accepted, but at face value reaches a cutoff
	odd    bool          // it was possible, though: a second that agrees is accepted
	oddAt  time.Duration
	oddC   float64
}

// latch is a set of faults that stay until a person acknowledges them.
type latch uint8

// The faults that latch.
const (
	latchVesselCutoff latch = 1 << iota
	latchMatCutoff
	latchStuckOn
	latchPanic
)

// guardState is everything the guard remembers. It is a value: step returns
// a new one. Times are since the mat was made, on the monotonic clock.
type guardState struct {
	now       time.Duration
	started   bool // the first step was made; minimum off-time counts from it
	closed    bool
	mode      Mode
	setpointC float64
	wish      bool // what the thermostat would like
	on        bool // what is commanded
	unknown   bool // the last write failed or was not confirmed: the mat may be on
	latched   latch
	probes    [maxProbes]probe

	offSince          time.Duration
	lastOn            time.Duration // the last on-switch
	everOn            bool
	leaseEnd, writeAt time.Duration
	run               time.Duration // on-time that a rest is owed for; pauses pay it back
	resting           bool          // since run reached MaxOn, until Rest is over
	restEnd           time.Duration
	image             float64 // thermal image: what the energy given has warmed, as a share of what full power would

	onTime  [maxBuckets]time.Duration // on-time by bucket, a ring
	bucketN int64                     // number of the bucket that now lies in
	phase   time.Duration             // how far the first bucket had got before this run

	doubt doubt
	stuck stuckWatch
}

// eventKind says what happened.
type eventKind uint8

// The kinds of event the guard hears of.
const (
	evTick eventKind = iota
	evReading
	evFailed
	evWish
	evMode
	evSetpoint
	evAck
	evWrote       // the output did as it was told
	evWriteFailed // it did not, or it is unknown
	evClose
)

// event is one thing that happened. Only the fields of its kind are read.
type event struct {
	kind      eventKind
	probe     int // index, for readings and failures
	tempC     float64
	wish      bool
	said      evidence // with a wish: what the model says
	mode      Mode
	setpointC float64
}

// command is what the guard orders: on for a lease, or off. Write is set when
// the output must be told, be it news or a renewal.
type command struct {
	on     bool
	lease  time.Duration
	write  bool
	reason Reason
}

// step is the guard. It has no memory but s, reads no clock, and touches
// nothing: the whole safety argument of the mat is an argument about this
// function.
func step(l *limits, s guardState, e event, now time.Duration) (guardState, command) {
	s.advance(l, now)
	s.take(l, e)
	for _, r := range l.rules {
		if r.watch != nil {
			r.watch(l, &s, e)
		}
	}
	reason := s.blocked(l, e)
	return s.decide(l, reason)
}

// advance moves time on, never back, and books the on-time that passed.
func (s *guardState) advance(l *limits, now time.Duration) {
	if !s.started {
		s.started, s.now, s.offSince = true, now, now
		s.bucketN = int64((now + s.phase) / l.bucket)
	}
	for s.now < now {
		s.turnBuckets(l)
		upto := min(now, time.Duration(s.bucketN+1)*l.bucket-s.phase)
		if s.on || s.unknown {
			s.onTime[s.bucketN%int64(l.buckets)] += upto - s.now
			s.run = min(s.run+upto-s.now, l.MaxOn)
		} else {
			s.run = max(s.run-time.Duration(l.payBack*float64(upto-s.now)), 0)
		}
		if s.on {
			s.doubt.on += s.heated(upto)
		}
		s.warmImage(l, upto-s.now)
		s.now = upto
	}
	s.turnBuckets(l)
}

// heated is for how long until upto a mat that is on can have heated: not past
// the end of a lease, or a board that slept would wake to a mat without effect.
func (s *guardState) heated(upto time.Duration) time.Duration {
	return max(min(upto, s.leaseEnd)-s.now, 0)
}

// turnBuckets empties the buckets that fell out of the window.
func (s *guardState) turnBuckets(l *limits) {
	n := int64((s.now + s.phase) / l.bucket)
	if n-s.bucketN > int64(l.buckets) {
		s.bucketN = n - int64(l.buckets)
	}
	for s.bucketN < n {
		s.bucketN++
		s.onTime[s.bucketN%int64(l.buckets)] = 0
	}
}

// take notes what the event says, before the rules watch it.
func (s *guardState) take(l *limits, e event) {
	switch e.kind {
	case evReading:
		s.takeReading(l, e)
	case evFailed:
		s.probes[e.probe].good = 0
	case evWish:
		s.wish = e.wish
	case evMode:
		s.mode = e.mode
	case evSetpoint:
		s.setpointC = e.setpointC
	case evClose:
		s.closed = true
	}
}

// takeReading makes a value the probe's reading, if no rule objects.
func (s *guardState) takeReading(l *limits, e event) {
	p := &s.probes[e.probe]
	for _, r := range l.rules {
		if r.judge != nil && !r.judge(l, p, e.tempC, s.now) {
			p.good = 0
			p.hot = e.tempC >= cutoffOf(l, p.place)
			p.odd, p.oddAt, p.oddC = possible(e.tempC), s.now, e.tempC
			return
		}
	}
	if p.has && s.now-p.at >= l.Stale {
		p.good = 0
	}
	p.has, p.hot, p.odd, p.at, p.tempC = true, false, false, s.now, e.tempC
	p.good = min(p.good+1, l.GoodReadings)
}

// blocked returns the first reason not to heat, or "" when there is none.
func (s *guardState) blocked(l *limits, e event) Reason {
	if s.closed {
		return ReasonClosed
	}
	for _, r := range l.rules {
		if r.block == nil {
			continue
		}
		if reason := r.block(l, s, e); reason != "" {
			return reason
		}
	}
	return ""
}

// decide turns wish and permission into a command.
func (s guardState) decide(l *limits, reason Reason) (guardState, command) {
	if !s.wish || reason != "" {
		return s.letGo(l, reason)
	}
	c := command{on: true, lease: s.lease(l)}
	if c.lease < shortestLease {
		return s.letGo(l, ReasonStale)
	}
	if !s.on {
		s.on, s.everOn, s.lastOn = true, true, s.now
		c.write = true
	}
	// The lease that counts is the one the output was last told.
	if c.write = c.write || s.now >= s.writeAt; c.write {
		s.leaseEnd = s.now + c.lease
		s.writeAt = s.now + c.lease/time.Duration(l.renewEvery)
	}
	return s, c
}

// repeatOff is how often an off is said again: to a plug it is the question
// whether it is off, whose answer must come again.
const repeatOff = 10 * time.Second

// letGo switches off, or keeps off and says so again.
func (s guardState) letGo(l *limits, reason Reason) (guardState, command) {
	c := command{reason: reason, write: s.on || s.unknown || s.now >= s.writeAt}
	if s.on {
		s.on, s.offSince = false, s.now
	}
	if c.write {
		s.writeAt = s.now + min(l.Lease, repeatOff)
	}
	return s, c
}

// pauseEnd is when the pause that is the reason ends; ok is false where the
// reason is none, or it is unknown.
func (s *guardState) pauseEnd(l *limits, why Reason) (end time.Duration, ok bool) {
	switch why {
	case ReasonMinOff:
		end = s.offSince + l.MinOff
		if s.everOn {
			end = max(end, s.lastOn+l.cycle)
		}
		return end, true
	case ReasonRest:
		return s.restEnd, true
	case ReasonLooking, ReasonNoGain:
		return s.doubt.until, true
	}
	return 0, false
}

// lease is the permission given now: the least of what the rules allow.
func (s *guardState) lease(l *limits) time.Duration {
	d := 24 * time.Hour
	for _, r := range l.rules {
		if r.cap != nil {
			d = min(d, r.cap(l, s))
		}
	}
	return d
}

// vessel returns the mean of the fresh vessel probes, °C.
func (s *guardState) vessel(l *limits) (float64, bool) { return s.mean(l, AtVessel) }

// mean returns the mean of the fresh probes at a place, °C.
func (s *guardState) mean(l *limits, at Place) (float64, bool) {
	sum, n := 0.0, 0
	for i := range s.probes {
		if p := &s.probes[i]; p.place == at && p.has && s.now-p.at < l.Stale {
			sum += p.tempC
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / float64(n), true
}

// dutyOn returns the on-time within the duty window.
func (s *guardState) dutyOn(l *limits) time.Duration {
	var sum time.Duration
	for i := range l.buckets {
		sum += s.onTime[i]
	}
	return sum
}
