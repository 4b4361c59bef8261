package control_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// hold steers a plant for a while and returns the mat and the plant.
func hold(t *testing.T, po sim.PlantOpts, o control.Opts, d time.Duration, probes ...control.Place) (*control.Mat, *sim.Plant) {
	t.Helper()
	out := &lamp{}
	m, err := control.New(out, o)
	if err != nil {
		t.Fatal(err)
	}
	p := sim.NewPlant(po)
	steer(m, out, p, d, probes...)
	return m, p
}

// steer lets a mat steer a plant.
func steer(m *control.Mat, out *lamp, p *sim.Plant, d time.Duration, probes ...control.Place) {
	at := time.Unix(0, 0).Add(p.Elapsed())
	_ = m.SetMode(at, control.Hold)
	for end := p.Elapsed() + d; p.Elapsed() < end; at = at.Add(sampleEvery) {
		for _, place := range probes {
			c := math.Round(p.ProbeC(sensor.Place(place))*16) / 16
			m.Temperature(at, "probe-"+string(place), place, c)
		}
		m.Tick(at)
		p.Step(sampleEvery, out.on)
	}
}

func TestUnreachableSetpointIsSaid(t *testing.T) {
	po := sim.PlantOpts{MatW: 9, ContentsKg: 1, Room: sim.RoomOpts{MeanC: 15}}
	reach := sim.NewPlant(po).SteadyC(15, 1)
	m, _ := hold(t, po, control.Opts{SetpointC: 27}, 6*time.Hour, control.AtVessel)
	s := m.State()
	if !s.Unreachable || !s.ExpectOK || math.Abs(s.ExpectC-reach) > 1 {
		t.Fatalf("unreachable %v, expect %.1f °C (%v); full power levels off at %.1f °C", s.Unreachable, s.ExpectC, s.ExpectOK, reach)
	}
	if !strings.Contains(s.Text, "too cold for this mat: expect") {
		t.Errorf("it says %q", s.Text)
	}
	for _, f := range s.Faults {
		t.Errorf("a cold room is no fault: %s", f.Kind)
	}
}

func TestReachableSetpointIsNotCalledUnreachable(t *testing.T) {
	po := sim.PlantOpts{MatW: 25, ContentsKg: 0.7, Room: sim.RoomOpts{MeanC: 19, SwingC: 1}}
	out := &lamp{}
	m, err := control.New(out, control.Opts{SetpointC: 25})
	if err != nil {
		t.Fatal(err)
	}
	p := sim.NewPlant(po)
	for range 24 {
		steer(m, out, p, 30*time.Minute, control.AtVessel)
		if s := m.State(); s.Unreachable {
			t.Fatalf("after %s: %s", p.Elapsed(), s.Text)
		}
	}
}

func TestLearntSurvivesRestart(t *testing.T) {
	po := sim.PlantOpts{MatW: 25, ContentsKg: 0.7, Room: sim.RoomOpts{MeanC: 19}}
	m, _ := hold(t, po, control.Opts{SetpointC: 25}, 8*time.Hour, control.AtVessel)
	_ = m.SetMode(m.State().At, control.Off)
	saved := m.Snapshot()
	if saved.Mat == nil {
		t.Fatalf("nothing was learnt in 8 h: %+v", saved)
	}
	b, err := json.Marshal(saved)
	if err != nil {
		t.Fatal(err)
	}
	var back control.Snapshot
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	n, err := control.New(&control.Dry{}, control.Opts{SetpointC: 25})
	if err != nil {
		t.Fatal(err)
	}
	n.Restore(back, 0)
	got, _ := json.Marshal(n.Snapshot())
	if string(got) != string(b) {
		t.Errorf("after a restart %s, before it %s", got, b)
	}
}

func TestMatProbeKeepsTheSurfaceBelowItsCutoff(t *testing.T) {
	// A strong mat that barely passes its heat on would reach 50 °C.
	po := sim.PlantOpts{MatW: 40, MatLossWK: 1.2, CoupleWK: 0.6, ContentsKg: 2, Room: sim.RoomOpts{MeanC: 20}}
	m, p := hold(t, po, control.Opts{SetpointC: 27, MatCutoffC: 42}, 5*time.Hour, control.AtVessel, control.AtMat)
	if s := m.State(); len(s.Faults) > 0 || s.MatC > 42 {
		t.Fatalf("mat at %.1f °C, faults %v", s.MatC, s.Faults)
	}
	if bare := p.SteadyC(20, 1); bare < 27 {
		t.Fatalf("this plant reaches only %.1f °C: the test tests nothing", bare)
	}
}

// The life of a relay does not begin again with each start of the program.
func TestLifeOfTheSwitchSurvivesRestart(t *testing.T) {
	po := sim.PlantOpts{MatW: 25, ContentsKg: 0.7, Room: sim.RoomOpts{MeanC: 19}}
	m, _ := hold(t, po, control.Opts{SetpointC: 25}, 4*time.Hour, control.AtVessel)
	_ = m.SetMode(m.State().At, control.Off)
	saved, was := m.Snapshot(), m.State()
	if was.OnSwitches == 0 || saved.Life != (control.Life{Switches: was.OnSwitches, On: was.OnTotal}) {
		t.Fatalf("saved %+v after %d switches and %s", saved.Life, was.OnSwitches, was.OnTotal)
	}
	n, err := control.New(&control.Dry{}, control.Opts{SetpointC: 25})
	if err != nil {
		t.Fatal(err)
	}
	n.Restore(saved, 0)
	if s := n.State(); s.OnSwitches != was.OnSwitches || s.OnTotal != was.OnTotal {
		t.Errorf("after a restart %d switches and %s, before it %d and %s", s.OnSwitches, s.OnTotal, was.OnSwitches, was.OnTotal)
	}
	saved.Life.On = -1
	n.Restore(saved, 0)
	if s := n.State(); s.OnTotal != was.OnTotal {
		t.Errorf("a negative life was believed: %s", s.OnTotal)
	}
}

func TestStoredNonsenseTeachesNothing(t *testing.T) {
	m, err := control.New(&control.Dry{}, control.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	m.Restore(control.Snapshot{OnS: []int{-5}, NoGainS: -9, Mat: &control.Learnt{DelayMin: -1, RateCMin: 1e9, LossMin: math.Inf(1)}}, 0)
	if p := m.Snapshot(); p.NoGainS != 0 || len(p.OnS) != 0 || p.Mat != nil {
		t.Errorf("nonsense was kept: %+v", p)
	}
}

// The hour at which a pause is said to end is the hour at which the mat comes
// on, if it is still cold.
func TestPauseEndsWhenItSays(t *testing.T) {
	out := &lamp{}
	m, err := control.New(out, control.Opts{SetpointC: 26})
	if err != nil {
		t.Fatal(err)
	}
	at := time.Unix(0, 0)
	_ = m.SetMode(at, control.Hold)
	var said time.Time
	for range 60 {
		if at = at.Add(5 * time.Second); out.on {
			break
		}
		m.Temperature(at, "crumb", control.AtVessel, 20)
		if s := m.State(); s.Reason == control.ReasonMinOff {
			said = s.FreeAt
		}
	}
	on := at.Add(-5 * time.Second) // the reading that switched it on
	if late := on.Sub(said); !out.on || said.IsZero() || late < 0 || late > 5*time.Second {
		t.Errorf("said %s, on %v at %s", said, out.on, on)
	}
	if s := m.State(); !s.FreeAt.IsZero() {
		t.Errorf("while it heats, a pause is said to end at %s", s.FreeAt)
	}
}
