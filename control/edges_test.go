package control

import (
	"errors"
	"slices"
	"testing"
	"time"
)

// Steps fall where they fall: one that comes less than the shortest lease
// before the longest on is over ends it, and the rest is due as ever.
func TestRestIsDueWhereverTheStepsFall(t *testing.T) {
	for _, shift := range []time.Duration{0, 200 * time.Millisecond, 1100 * time.Millisecond, 1900 * time.Millisecond} {
		b := newBench(t, Opts{MaxOn: 30 * time.Minute, Rest: 20 * time.Minute, MinOff: 2 * time.Minute})
		b.without(6) // a vessel that stays at 20 °C answers to nothing
		b.warm()
		b.now = b.now.Add(shift)
		for range 3 * 60 * 6 {
			b.m.Temperature(b.now, "crumb", AtVessel, 20)
			b.idle(10 * time.Second)
			if s := b.m.State(); !s.On {
				if s.Reason != ReasonRest {
					t.Errorf("shifted by %s: off for %q, want it to rest", shift, s.Reason)
				}
				break
			}
		}
		b.run(19*time.Minute, 20)
		b.wantOn(false, "in the rest after the longest on")
		b.run(2*time.Minute, 20)
		b.wantOn(true, "after the rest")
	}
}

// A broker that is away for hours says nothing of the mat's warmth: what was
// told off and cannot be asked has not been heating for the sake of rule 6.
func TestOutageIsNoHeatWithoutGain(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 26})
	b.warm()
	b.out.failOn, b.out.failOff = errors.New("not connected"), errors.New("not connected")
	b.run(5*time.Hour, 20)
	b.wantFault(FaultOutput)
	for _, f := range b.m.State().Faults {
		if f.Kind == FaultNoGain {
			t.Fatalf("after the outage: %v", f)
		}
	}
	b.out.failOn, b.out.failOff = nil, nil
	if b.m.g.doubt.on >= b.m.lim.GainTime {
		t.Errorf("the outage counts as %s of heat without an answer", b.m.g.doubt.on)
	}
	b.without(6) // a vessel that stays at 20 °C answers to nothing
	b.run(15*time.Minute, 20)
	b.wantOn(true, "when the broker is back")
}

// A reading that ends a wish in the same instant as the pause ends is no
// switching.
func TestNoPhantomSwitch(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 25, HysteresisC: 0.3, MinOff: 2 * time.Minute})
	b.run(110*time.Second, 24.6)
	b.now = b.now.Add(10 * time.Second)
	b.m.Temperature(b.now, "crumb", AtVessel, 25.5)
	if s := b.m.State(); s.OnSwitches != 0 {
		t.Errorf("%d switches for a mat that was never on", s.OnSwitches)
	}
}

// A probe that was hot and fell silent does not "still read" anything.
func TestAcknowledgeSaysThatAProbeIsSilent(t *testing.T) {
	b := newBench(t, Opts{})
	b.warm()
	b.run(2*time.Minute, 36)
	if err := b.m.Acknowledge(b.now); !errors.Is(err, ErrStillHot) {
		t.Errorf("hot: %v", err)
	}
	b.idle(3 * time.Minute)
	if err := b.m.Acknowledge(b.now); !errors.Is(err, ErrHotUnheard) {
		t.Errorf("hot and then silent: %v", err)
	}
	b.run(3*time.Minute, 30)
	if err := b.m.Acknowledge(b.now); err != nil {
		t.Errorf("heard again, and cool: %v", err)
	}
}

// A write that failed and was mended by the next one is told of for a while:
// somebody should look at that switch.
func TestMendedFailureIsToldForAWhile(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 26})
	b.warm()
	b.run(time.Hour, 27)
	b.out.failOff = errors.New("not connected")
	_ = b.m.SetMode(b.now, Off)
	b.run(20*time.Second, 27)
	b.out.failOff = nil
	b.run(tellBad-time.Minute, 27)
	b.wantFault(FaultOutput)
	b.run(2*time.Minute, 27)
	for _, f := range b.m.State().Faults {
		if f.Kind == FaultOutput {
			t.Errorf("still told after %s", tellBad)
		}
	}
}

// An on that works is the best sign that the switch is well again.
func TestOnThatWorksEndsTheFault(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 26, OnSwitchesPerHour: 30})
	b.out.failOn = errors.New("not connected")
	b.run(6*time.Minute, 20)
	b.wantFault(FaultOutput)
	b.out.failOn = nil
	b.run(7*time.Minute, 20)
	b.wantOn(true, "when the switch answers")
	for _, f := range b.m.State().Faults {
		t.Errorf("still told: %s", f.Kind)
	}
}

// The thermostat plans for as many switches as the guard allows.
func TestThermostatKnowsTheCycle(t *testing.T) {
	m, err := New(&Dry{}, Opts{OnSwitchesPerHour: 4, MinOff: 3 * time.Minute, MatCutoffC: 41})
	if err != nil {
		t.Fatal(err)
	}
	if th := m.therm; th.cycle != 15*time.Minute || th.cycle != m.lim.cycle || th.minOff != 3*time.Minute || th.matTopC != 38 {
		t.Errorf("cycle %s, min off %s, mat below %g °C; want 15m, 3m, 38", th.cycle, th.minOff, th.matTopC)
	}
}

// The mat's own cutoff latches the mat's fault, and no other.
func TestMatCutoffLatches(t *testing.T) {
	b := newBench(t, Opts{SetpointC: 26, MatCutoffC: 45})
	b.warm()
	b.m.Temperature(b.now, "surface", AtMat, 44.9)
	if b.m.g.latched != 0 {
		t.Errorf("latched %b below the cutoff", b.m.g.latched)
	}
	b.m.Temperature(b.now.Add(time.Second), "surface", AtMat, 45)
	if b.m.g.latched != latchMatCutoff {
		t.Errorf("latched %b, want the mat's cutoff alone", b.m.g.latched)
	}
}

// Half hours without heat between others keep their place in a snapshot.
func TestIdleHalfHoursAreKept(t *testing.T) {
	m, err := New(&Dry{}, Opts{})
	if err != nil {
		t.Fatal(err)
	}
	m.g.onTime[maxBuckets-3] = 100 * time.Second
	if got := m.Snapshot().OnS; !slices.Equal(got, []int{100, 0, 0, 0}) {
		t.Errorf("on-time by half hours %v, want 100 three half hours ago", got)
	}
}
