// Package jar is the geometry of a vessel under a ranger: from a distance to a
// height, from a height to a volume where the walls lean, from measured levels
// to the floor, and how deep a ranger sees before its cone meets the wall.
//
// A vessel is a cone cut off at both ends: two inside diameters and a height.
// With equal diameters it is a straight jar, and ratios of heights are ratios
// of volumes. In a bowl that widens they are not: dough that doubles in height
// has more than doubled.
package jar

import (
	"errors"
	"fmt"
	"math"
)

// Shape is a vessel's inside, mm.
type Shape struct {
	BottomMM float64 // diameter at the floor
	TopMM    float64 // diameter at HeightMM; 0 is as at the floor
	HeightMM float64 // from the floor to where TopMM is measured
}

// Check returns what is wrong with the shape, or nil.
func (s Shape) Check() error {
	switch {
	case !(s.BottomMM >= 20 && s.BottomMM <= 1000):
		return fmt.Errorf("diameter at the floor: %v mm is not within 20 to 1000", s.BottomMM)
	case s.TopMM != 0 && !(s.TopMM >= 20 && s.TopMM <= 1000):
		return fmt.Errorf("diameter at the top: %v mm is not within 20 to 1000", s.TopMM)
	case !(s.HeightMM >= 20 && s.HeightMM <= 1000):
		return fmt.Errorf("height: %v mm is not within 20 to 1000", s.HeightMM)
	}
	return nil
}

// lean is how much the diameter grows per mm of height.
func (s Shape) lean() float64 {
	if s.TopMM == 0 || s.HeightMM == 0 {
		return 0
	}
	return (s.TopMM - s.BottomMM) / s.HeightMM
}

// DiameterMM returns the inside diameter at a height.
func (s Shape) DiameterMM(heightMM float64) float64 { return s.BottomMM + s.lean()*heightMM }

// VolumeML returns what the vessel holds up to a height: that of a cone cut
// off, π/12·h·(d² + d·D + D²). A millilitre is 1000 mm³.
func (s Shape) VolumeML(heightMM float64) float64 {
	d, top := s.BottomMM, s.DiameterMM(heightMM)
	return math.Pi / 12 * heightMM * (d*d + d*top + top*top) / 1000
}

// LevelMM returns the height to which a volume fills the vessel.
func (s Shape) LevelMM(volumeML float64) float64 {
	d, k, v := s.BottomMM, s.lean(), volumeML*1000
	if math.Abs(k) < 1e-9 {
		return 4 * v / (math.Pi * d * d)
	}
	// The volume is π/(12k)·(D³ - d³), solved for D and then for the height.
	return (math.Cbrt(d*d*d+12*k*v/math.Pi) - d) / k
}

// EquivalentMM turns a height into the height that the same volume has in a straight
// vessel as wide as this one at half its height. Ratios of such heights are ratios of
// volumes, whatever the walls do; in a straight vessel nothing changes.
func (s Shape) EquivalentMM(heightMM float64) float64 {
	if s.lean() == 0 {
		return heightMM
	}
	d := s.DiameterMM(s.HeightMM / 2)
	return s.VolumeML(heightMM) * 4000 / (math.Pi * d * d)
}

// HeightOfMM turns a height of EquivalentMM back into the vessel's own.
func (s Shape) HeightOfMM(equivalentMM float64) float64 {
	if s.lean() == 0 {
		return equivalentMM
	}
	d := s.DiameterMM(s.HeightMM / 2)
	return s.LevelMM(equivalentMM * math.Pi * d * d / 4000)
}

// ReachMM returns how far below a ranger its cone meets the wall of a straight
// bore, when the ranger hangs in the middle. Beyond that a reading is a mix of
// dough and wall. fovDeg is the full angle: 25 for a VL53L0X or VL6180X, 27, 20
// or 15 for a VL53L1X with 16, 8 or 4 cells a side.
func ReachMM(boreMM, fovDeg float64) float64 {
	return boreMM / 2 / math.Tan(fovDeg/2*math.Pi/180)
}

// Level is one calibration point: what the ranger said and how high the
// surface truly stood, by a ruler, or 0 for the empty vessel.
type Level struct {
	DistanceMM float64
	HeightMM   float64
}

// Fit is what a set of levels says about a ranger and its vessel.
type Fit struct {
	FloorMM  float64 // distance to the inside floor
	Scale    float64 // mm of distance per mm of height; 1 for a good ranger
	WorstMM  float64 // farthest a level lies from the fit, taking the scale as 1
	Warnings []string
}

// Calibrate works the floor out from one or more levels. With two or more it
// also checks that distances shrink as fast as heights grow: where they do not,
// the cover glass throws light back, the cone meets the wall, or a ruler slipped.
func Calibrate(levels []Level) (Fit, error) {
	if len(levels) == 0 {
		return Fit{}, errors.New("calibrate: no level was given")
	}
	f := Fit{Scale: 1}
	for i, l := range levels {
		if !(l.DistanceMM > 0 && l.DistanceMM <= 4000) || !(l.HeightMM >= 0 && l.HeightMM <= 1000) {
			return Fit{}, fmt.Errorf("calibrate: level %d: distance %v mm and height %v mm cannot be", i+1, l.DistanceMM, l.HeightMM)
		}
		f.FloorMM += (l.DistanceMM + l.HeightMM) / float64(len(levels))
	}
	for _, l := range levels {
		f.WorstMM = max(f.WorstMM, math.Abs(l.DistanceMM+l.HeightMM-f.FloorMM))
	}
	if scale, ok := slope(levels); ok {
		f.Scale = scale
	}
	// A twentieth is what a data sheet of these rangers promises; 5 mm is far
	// above what a ruler and an averaged reading leave.
	if math.Abs(f.Scale-1) > 0.05 {
		f.Warnings = append(f.Warnings, fmt.Sprintf("the distance changes by %.2f mm for each mm of height: check the cover glass, and whether the cone meets the wall", f.Scale))
	}
	if f.WorstMM > 5 {
		f.Warnings = append(f.Warnings, fmt.Sprintf("one level is %.1f mm off the others: measure it again", f.WorstMM))
	}
	return f, nil
}

// slope returns the fall of distance with height by least squares. Levels that
// lie within 20 mm of each other say nothing about it.
func slope(levels []Level) (float64, bool) {
	n := float64(len(levels))
	var mh, md float64
	low, high := math.Inf(1), math.Inf(-1)
	for _, l := range levels {
		mh, md = mh+l.HeightMM/n, md+l.DistanceMM/n
		low, high = min(low, l.HeightMM), max(high, l.HeightMM)
	}
	if high-low < 20 {
		return 0, false
	}
	var hh, hd float64
	for _, l := range levels {
		hh += (l.HeightMM - mh) * (l.HeightMM - mh)
		hd += (l.HeightMM - mh) * (l.DistanceMM - md)
	}
	return -hd / hh, true
}
