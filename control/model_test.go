package control

import (
	"math"
	"testing"
)

// jarOnMat is a vessel of one pole behind a dead time, in invented numbers: 20 W
// under half a kilogram.
type jarOnMat struct {
	m       model
	c, room float64
	probe   float64
	queue   []float64
	steps   int
	noise   uint32
	heard   func(c float64) float64 // nil: the probe tells the truth
}

const jarRate, jarLoss, jarStep = 0.25, 1.0 / 80, 1.0 / 6

func newJar() *jarOnMat {
	return &jarOnMat{c: 22, room: 18, probe: 22, queue: make([]float64, 24), noise: 7}
}

// run lets minutes pass in which the mat is on for a share of every window of
// ten to thirteen minutes.
func (j *jarOnMat) run(minutes, share float64) {
	for range int(minutes / jarStep) {
		window := 60 + 6*(j.steps/60%4)
		u := 0.0
		if float64(j.steps%window) < share*float64(window) {
			u = 1
		}
		j.m.switched(u > 0)
		u, j.queue[j.steps%len(j.queue)] = j.queue[j.steps%len(j.queue)], u
		j.c += jarStep * (jarRate*u - jarLoss*(j.c-j.room))
		j.probe += (1 - math.Exp(-jarStep)) * (j.c - j.probe)
		j.noise = j.noise*1664525 + 1013904223
		c := j.probe
		if j.heard != nil {
			c = j.heard(c)
		}
		j.m.read(math.Round(16*(c+0.06*(float64(j.noise>>16)/65536-0.5))) / 16)
		j.m.pass(jarStep)
		j.steps++
	}
}

// hold is the share of full power that the model says would hold set.
func (j *jarOnMat) hold(set float64) (share float64) {
	j.m.believed(func(v view, w float64) { share -= w * v.drift(set, j.m.t0) / v.b })
	return share
}

// trueHold is the same by the jar's own numbers.
func (j *jarOnMat) trueHold(set float64) float64 { return jarLoss * (set - j.room) / jarRate }

func TestModelLearnsTheJar(t *testing.T) {
	j := newJar()
	j.run(300, 0.3)
	if b := j.m.rate(); math.Abs(b-jarRate) > 0.25*jarRate {
		t.Errorf("full power warms by %.3f °C a minute, the jar by %.3f", b, jarRate)
	}
	if got, want := j.hold(j.c), j.trueHold(j.c); math.Abs(got-want) > 0.1 {
		t.Errorf("it holds %.1f °C with a share of %.2f, the jar with %.2f", j.c, got, want)
	}
}

// Contents that come in cold make the reading fall within minutes. The room is
// as it was, and so is the heat that will hold them.
func TestFeedIsNoColderRoom(t *testing.T) {
	j := newJar()
	j.run(300, 0.3)
	set, was := j.c, j.hold(j.c)
	j.c -= 4
	for range 6 {
		if j.run(5, 0.3); math.Abs(j.hold(set)-was) > 0.15 {
			t.Errorf("%d min after the start a share of %.2f is said to hold %.1f °C; before the feed %.2f", j.steps/6, j.hold(set), set, was)
		}
	}
}

// A room that has become colder asks for more, and within two hours it is told.
func TestColderRoomAsksForMore(t *testing.T) {
	j := newJar()
	j.run(300, 0.3)
	set, was := j.c, j.hold(j.c)
	j.room -= 4
	j.run(120, 0.4)
	if got, want := j.hold(set)-was, jarLoss*4/jarRate; math.Abs(got-want) > 0.4*want {
		t.Errorf("the share rose by %.2f, by the jar's own loss it is %.2f", got, want)
	}
}

// A probe that answers to the heat and one that does not are told apart within
// an hour, and a probe that stops to answer is told too.
func TestAnswerIsTold(t *testing.T) {
	j := newJar()
	j.run(60, 0.3)
	if j.m.contact < sure || j.m.evidence(26, false, 0)&(answers|deaf) != answers {
		t.Errorf("a jar on its mat: log odds %.1f", j.m.contact)
	}
	still := newJar()
	still.heard = func(float64) float64 { return 21 }
	still.run(90, 0.3)
	if still.m.contact > unlikely || still.m.evidence(26, false, 0)&(answers|deaf) != deaf {
		t.Errorf("a reading that stands still: log odds %.1f", still.m.contact)
	}
	c := j.c
	j.heard = func(float64) float64 { return c }
	j.run(120, 0.3)
	if j.m.contact > unlikely {
		t.Errorf("it has stood still for two hours: log odds %.1f", j.m.contact)
	}
}

// What the model says follows from its odds, leaps and need; here at their edges.
func TestEvidenceAtItsEdges(t *testing.T) {
	const off = 1e-9
	known := model{rated: knownMinutes + 1, last: 24}
	known.begin(24)
	with := func(f func(m *model)) *model { m := known; f(&m); return &m }
	for _, tt := range []struct {
		name string
		m    *model
		wary bool
		flag evidence
		want bool
	}{
		{"likelier than not", with(func(m *model) { m.contact = off }), false, likelier, true},
		{"as likely as not", with(func(m *model) {}), false, likelier, false},
		{"a leaping reading is not likelier", with(func(m *model) { m.contact, m.jumps = 1, manyJumps }), false, likelier, false},
		{"sure of an answer", with(func(m *model) { m.contact = sure }), false, answers, true},
		{"not quite sure", with(func(m *model) { m.contact = sure - off }), false, answers, false},
		{"a reading that leaps about answers nothing", with(func(m *model) { m.contact, m.jumps = sure, manyJumps }), false, answers, false},
		{"and counts as deaf", with(func(m *model) { m.contact, m.jumps = sure, manyJumps }), false, deaf, true},
		{"deaf", with(func(m *model) { m.contact = unlikely }), false, deaf, true},
		{"not quite deaf", with(func(m *model) { m.contact = unlikely + off }), false, deaf, false},
		{"leapt", with(func(m *model) { m.jumps = movedJumps + off }), false, moved, true},
		{"leapt long ago", with(func(m *model) { m.jumps = movedJumps }), false, moved, false},
		{"leapt and answers again", with(func(m *model) { m.jumps, m.contact = 1, sure }), false, moved, false},
		{"leapt before the mat is known", with(func(m *model) { m.jumps, m.rated = 1, knownMinutes }), false, moved, false},
		{"warmer than the heat can be without the room's probe", with(func(m *model) { m.need.gap, m.need.set = 9, 24 }), false, spent, false},
		{"the heat has gone astray", with(func(m *model) { m.need.gap, m.need.set, m.roomOK = farC, 24, true }), false, spent, true},
		{"not quite", with(func(m *model) { m.need.gap, m.need.set, m.roomOK = farC-off, 24, true }), false, spent, false},
		{"sooner after a doubt", with(func(m *model) { m.need.gap, m.need.set, m.roomOK = nearC, 24, true }), true, spent, true},
		{"a reading that is warm asks for nothing", with(func(m *model) { m.need.gap, m.need.set, m.roomOK, m.last = 9, 24, true, 24+nearC }), false, spent, false},
		{"as much as when it arrived", with(func(m *model) { m.need.since = 9 }), false, agrees, true},
		{"more than then", with(func(m *model) { m.need.since, m.need.more = 9, nearC }), false, agrees, false},
		{"more than then over half an hour", with(func(m *model) { m.need.since, m.need.slow = 9, nearC/reachC }), false, agrees, false},
		{"before it has arrived", with(func(m *model) {}), false, agrees, false},
	} {
		if got := tt.m.evidence(24, tt.wary, 0)&tt.flag != 0; got != tt.want {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
	for _, tt := range []struct {
		name   string
		m      *model
		warmed float64 // by the heat since the last answer, °C
		want   bool
	}{
		{"heat that shows", with(func(m *model) {}), 2*farC + off, true},
		{"not quite", with(func(m *model) {}), 2*farC - off, false},
		{"sooner after a leap", with(func(m *model) { m.jumps = 1 }), farC + off, true},
		{"not quite after a leap", with(func(m *model) { m.jumps = 1 }), farC - off, false},
		{"a mat that is not known", with(func(m *model) { m.rated = knownMinutes }), 9, false},
	} {
		if got := tt.m.evidence(24, false, tt.warmed/tt.m.rate())&due != 0; got != tt.want {
			t.Errorf("%s: due %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestLikelyCause(t *testing.T) {
	for _, tt := range []struct {
		m    model
		want string
	}{
		{model{rated: knownMinutes, jumps: 1}, ""},
		{model{rated: knownMinutes + 1, jumps: 1, last: 25}, "the reading leapt: the probe has probably slipped out"},
		{model{rated: knownMinutes + 1, last: 25 - farC - 0.01}, "the reading sank slowly: the mat probably gives no heat"},
		{model{rated: knownMinutes + 1, last: 25 - farC}, ""},
	} {
		if got := tt.m.likely(25); got != tt.want {
			t.Errorf("%.0f min of heat, %.1f leaps, %.2f °C: %q", tt.m.rated, tt.m.jumps, tt.m.last, got)
		}
	}
}

// Who asks for a warmer vessel gets no less heat; one far below its setpoint gets
// all, one far above nothing; and heat on its way counts as given.
func TestPlanFollowsTheSetpoint(t *testing.T) {
	j := newJar()
	j.run(300, 0.3)
	last := -1.0
	for set := j.c - 4; set < j.c+4; set += 0.25 {
		p := j.m.plan(set, 0, 10, 0)
		if p.share < last {
			t.Errorf("a share of %.2f for %.2f °C and less for more", last, set)
		}
		if last = p.share; p.window < 10 || p.window > 30 {
			t.Errorf("a window of %.1f min, of 10 that may be and 30", p.window)
		}
	}
	if cold, warm := j.m.plan(j.c+5, 0, 10, 0).share, j.m.plan(j.c-5, 0, 10, 0).share; cold != 1 || warm != 0 {
		t.Errorf("5 °C below the setpoint a share of %.2f, 5 °C above it %.2f", cold, warm)
	}
	before := j.m.plan(j.c+0.3, 0, 10, 0).share
	for i, w := range ways {
		for s := range w.stages {
			j.m.x[i][s] = 1
		}
	}
	if after := j.m.plan(j.c+0.3, 0, 10, 0).share; after >= before {
		t.Errorf("with every way full of heat a share of %.2f, before %.2f", after, before)
	}
	if even, uneven := j.m.plan(j.c, 0, 10, 0).window, j.m.plan(j.c, 0, 10, 1).window; uneven <= even || uneven > 10*(1+unevenness) {
		t.Errorf("the longest window is %.2f min, the shortest %.2f", uneven, even)
	}
}

// The integral acts near the setpoint, towards it, and not where the heat
// cannot follow.
func TestIntegralActsNearTheSetpoint(t *testing.T) {
	j := newJar()
	j.run(300, 0.3)
	for _, tt := range []struct {
		name string
		off  float64
		sign float64
	}{
		{"below", 0.3, 1}, {"above", -0.1, -1}, {"far below", nearC + 0.01, 0}, {"far above", -nearC - 0.01, 0},
	} {
		p := j.m.plan(j.m.last+tt.off, 0, 10, 0)
		if p.offset*tt.sign < 0 || (p.offset != 0) != (tt.sign != 0) {
			t.Errorf("%s: the share %.2f moves by %.5f a minute", tt.name, p.share, p.offset)
		}
	}
	j.m.offset = 1
	if p := j.m.plan(j.m.last+0.3, 0, 10, 0); p.share != 1 || p.offset != 0 {
		t.Errorf("at full power the integral moves on by %.5f", p.offset)
	}
	j.m.offset = -1
	if p := j.m.plan(j.m.last-0.1, 0, 10, 0); p.share != 0 || p.offset != 0 {
		t.Errorf("without heat the integral moves on by %.5f", p.offset)
	}
}

// A restart keeps the heat that is on its way, whatever way it takes.
func TestHeatOnItsWaySurvives(t *testing.T) {
	j := newJar()
	j.run(300, 0.3)
	l := j.m.learnt()
	if l == nil || len(l.Stored) != storedParts {
		t.Fatalf("kept: %+v", l)
	}
	for i := range l.Stored {
		l.Stored[i] = float64(i) / storedParts
	}
	var n model
	n.begin(j.c)
	n.recall(*l, j.c, 0)
	for i, w := range ways {
		if got := n.x[i].stored(w) / w.delay; math.Abs(got-0.45) > 0.1 {
			t.Errorf("%+v: %.2f of it is full, want 0.45", w, got)
		}
	}
	if b := n.rate(); math.Abs(b-l.RateCMin) > 0.05*l.RateCMin {
		t.Errorf("the rate was %.3f, now %.3f", l.RateCMin, b)
	}
}
