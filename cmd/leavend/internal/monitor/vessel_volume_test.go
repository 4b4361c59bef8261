package monitor

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/sensor/jar"
	"leavend/sensor/sim"
	"leavend/sensor/sim/simtest"
)

// TestVolumeOfBowls mixes a dough into vessels of all shapes and holds the call
// against the volume that the simulated kitchen gives: a measured vessel is called
// by its volume, whatever its walls do.
func TestVolumeOfBowls(t *testing.T) {
	const target = 1.75
	for _, s := range []struct {
		name  string
		shape jar.Shape
	}{
		{"a cone of 90 to 260 mm", jar.Shape{BottomMM: 90, TopMM: 260, HeightMM: 170}},
		{"a wide bowl", jar.Shape{BottomMM: 160, TopMM: 250, HeightMM: 150}},
		{"a bowl that narrows", jar.Shape{BottomMM: 220, TopMM: 160, HeightMM: 170}},
		{"a straight tub", jar.Shape{BottomMM: 180, TopMM: 180, HeightMM: 150}},
	} {
		t.Run(s.name, func(t *testing.T) {
			rec := sim.Record(sim.RecordOpts{Seed: 7, Every: 30 * time.Second, Length: 20 * time.Hour, Starter: sim.Dough(),
				Vessel: sim.Vessel{BottomMM: s.shape.BottomMM, TopMM: s.shape.TopMM, RimMM: s.shape.HeightMM, SensorMM: 260},
				Feeds:  []sim.Feed{{Ratio: sim.BreadDough(), FillML: 1000, WaterC: 25}}, Plant: sim.PlantOpts{Room: sim.RoomOpts{MeanC: 23}}})
			truth := time.Duration(0)
			for i, h := range rec.Truth.HeightMM {
				if s.shape.VolumeML(h) >= target*s.shape.VolumeML(rec.Truth.HeightMM[0]) {
					truth = time.Duration(i) * rec.Truth.Every
					break
				}
			}
			if truth == 0 {
				t.Fatal("it never gets there")
			}
			measured := config.Vessel{Kind: config.Bowl, FloorMM: 260, BottomMM: s.shape.BottomMM, TopMM: s.shape.TopMM, HeightMM: s.shape.HeightMM, TargetRatio: target, Every: 30 * time.Second}
			byVolume, height := calledAfter(measured, rec)
			plain := measured
			plain.BottomMM, plain.TopMM = 0, 0
			byHeight, _ := calledAfter(plain, rec)
			if off := byVolume - truth; off.Abs() > 15*time.Minute {
				t.Errorf("called after %v; its volume was there after %v", byVolume, truth)
			}
			if want := rec.Truth.HeightMM[truth/rec.Truth.Every]; math.Abs(height-want) > 4 {
				t.Errorf("the level is told as %.0f mm; a ruler shows %.0f", height, want)
			}
			t.Logf("%s: volume at %v, called at %v by volume and at %v by height", s.name, truth.Round(time.Minute), byVolume.Round(time.Minute), byHeight.Round(time.Minute))
		})
	}
}

// calledAfter runs a recording through a vessel and returns when its target was
// called, and at what height; 0 if never.
func calledAfter(conf config.Vessel, rec *sim.Recording) (time.Duration, float64) {
	v := NewVessel(conf, nil)
	first := rec.Rows[0].At
	v.Fed(first)
	for _, row := range rec.Rows {
		for _, e := range v.Replay(row.At, row.DistanceMM, row.TempC) {
			if e.Kind == event.Target {
				return e.At.Sub(first), e.Detected.HeightMM
			}
		}
	}
	return 0, 0
}

// TestTargetOfTheRunningDough: a plan may name another rise for the dough that is in a
// bowl; the next one goes by the config again.
func TestTargetOfTheRunningDough(t *testing.T) {
	rec := simtest.DoughInBowl(11)
	conf := config.Vessel{Kind: config.Bowl, FloorMM: rec.Opts.Vessel.SensorMM, TargetRatio: 1.75, Every: 15 * time.Second}
	called := func(target float64) time.Duration {
		v := NewVessel(conf, nil)
		first := rec.Rows[0].At
		v.Fed(first)
		v.SetTarget(target)
		for _, row := range rec.Rows {
			for _, e := range v.Replay(row.At, row.DistanceMM, row.TempC) {
				if e.Kind == event.Target {
					if v.SetTarget(3); v.Target() == 3 {
						t.Error("a dough that is at its target gets another")
					}
					v.Fed(e.At.Add(time.Minute))
					if v.Target() != conf.TargetRatio {
						t.Errorf("the next dough waits for %g, want %g", v.Target(), conf.TargetRatio)
					}
					return e.At.Sub(first)
				}
			}
		}
		return 0
	}
	early, late := called(1.3), called(1.75)
	if early == 0 || late < early+30*time.Minute {
		t.Errorf("called after %v for 1.3 and after %v for 1.75", early, late)
	}
}
