package jar_test

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"leavend/sensor/jar"
)

// TestVolume checks against solids whose volumes are known in closed form, and
// against a sum over thin slices, which knows no formula.
func TestVolume(t *testing.T) {
	tests := []struct {
		name   string
		shape  jar.Shape
		height float64
		want   float64
	}{
		{"a cylinder, π·50²·100", jar.Shape{BottomMM: 100, HeightMM: 100}, 100, math.Pi * 0.25 * 1000},
		// School book: radii 30 and 60, height 90: π·90/3·(900+1800+3600).
		{"a cone cut off", jar.Shape{BottomMM: 60, TopMM: 120, HeightMM: 90}, 90, math.Pi * 30 * 6300 / 1000},
		{"half way up it", jar.Shape{BottomMM: 60, TopMM: 120, HeightMM: 90}, 45, math.Pi * 15 * (900 + 1350 + 2025) / 1000},
		{"nothing", jar.Shape{BottomMM: 60, TopMM: 120, HeightMM: 90}, 0, 0},
	}
	for _, tt := range tests {
		if got := tt.shape.VolumeML(tt.height); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: got %v ml, want %v", tt.name, got, tt.want)
		}
	}
	bowl := jar.Shape{BottomMM: 120, TopMM: 260, HeightMM: 140}
	sum := 0.0
	for i := range 140_00 {
		d := bowl.DiameterMM((float64(i) + 0.5) / 100)
		sum += math.Pi / 4 * d * d / 100 / 1000
	}
	if got := bowl.VolumeML(140); math.Abs(got/sum-1) > 1e-6 {
		t.Errorf("a bowl: got %v ml, slices give %v", got, sum)
	}
}

func TestLevelInvertsVolume(t *testing.T) {
	for _, s := range []jar.Shape{
		{BottomMM: 80, HeightMM: 160}, {BottomMM: 80, TopMM: 80, HeightMM: 160},
		{BottomMM: 70, TopMM: 95, HeightMM: 150}, {BottomMM: 95, TopMM: 70, HeightMM: 150},
	} {
		for h := 1.0; h <= 150; h += 7 {
			if got := s.LevelMM(s.VolumeML(h)); math.Abs(got-h) > 1e-9 {
				t.Errorf("%+v: %v mm became %v", s, h, got)
			}
		}
	}
}

// TestReach holds the cones to two values that follow from the data sheets'
// angles: 25° meets an 80 mm bore at 180 mm, 27° at 167 mm.
func TestReach(t *testing.T) {
	for fov, want := range map[float64]float64{25: 180, 27: 167} {
		if got := jar.ReachMM(80, fov); math.Abs(got-want) > 0.5 {
			t.Errorf("%v°: got %.1f mm, want %v", fov, got, want)
		}
	}
}

func TestCalibrate(t *testing.T) {
	tests := []struct {
		name    string
		levels  []jar.Level
		floor   float64
		scale   float64
		warning string
	}{
		{"empty", []jar.Level{{182, 0}}, 182, 1, ""},
		{"only a ruler", []jar.Level{{130, 52}}, 182, 1, ""},
		{"empty and half full", []jar.Level{{182, 0}, {102, 80}}, 182, 1, ""},
		{"light from the cover glass", []jar.Level{{160, 0}, {96, 80}}, 168, 0.8, "the distance changes by 0.80 mm"},
		{"a slipped ruler", []jar.Level{{182, 0}, {102, 80}, {158, 40}}, 187.33, 1, "one level is 10.7 mm off"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f, err := jar.Calibrate(tt.levels)
			if err != nil || math.Abs(f.FloorMM-tt.floor) > 0.01 || math.Abs(f.Scale-tt.scale) > 0.01 {
				t.Errorf("got %+v, %v, want floor %v, scale %v", f, err, tt.floor, tt.scale)
			}
			if all := strings.Join(f.Warnings, "; "); (all == "") != (tt.warning == "") || !strings.Contains(all, tt.warning) {
				t.Errorf("warnings %q, want %q", all, tt.warning)
			}
		})
	}
}

func TestRefuses(t *testing.T) {
	for _, levels := range [][]jar.Level{nil, {{0, 0}}, {{math.NaN(), 0}}, {{100, -1}}} {
		if f, err := jar.Calibrate(levels); err == nil {
			t.Errorf("%v was accepted: %+v", levels, f)
		}
	}
	for _, s := range []jar.Shape{{}, {BottomMM: 80}, {BottomMM: 80, TopMM: 5, HeightMM: 100}, {BottomMM: math.NaN(), HeightMM: 100}} {
		if s.Check() == nil {
			t.Errorf("%+v was accepted", s)
		}
	}
	if err := (jar.Shape{BottomMM: 80, HeightMM: 160}).Check(); err != nil {
		t.Error(err)
	}
}

// TestGuideTable holds the table of bores and cones in the guide to the
// formula.
func TestGuideTable(t *testing.T) {
	guide, err := os.ReadFile("../SENSORS.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := regexp.MustCompile(`(?m)^\| (\d+) mm \| (\d+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$`).FindAllStringSubmatch(string(guide), -1)
	if len(rows) != 8 {
		t.Fatalf("%d rows were found", len(rows))
	}
	for _, row := range rows {
		bore, _ := strconv.ParseFloat(row[1], 64)
		for i, fov := range []float64{27, 25, 20, 18, 15} {
			if got, want := row[i+2], fmt.Sprintf("%.0f", jar.ReachMM(bore, fov)); got != want {
				t.Errorf("bore %s, %v°: the guide says %s mm, it is %s", row[1], fov, got, want)
			}
		}
	}
}

// TestEquivalent holds equivalent heights to the volumes they stand for: cones,
// bowls that widen or narrow, and a straight jar.
func TestEquivalent(t *testing.T) {
	for _, s := range []jar.Shape{{90, 260, 150}, {180, 240, 190}, {120, 90, 160}, {85, 85, 160}, {85, 0, 160}} {
		for h := 10.0; h < 150; h += 7 {
			if got, want := s.EquivalentMM(h)/s.EquivalentMM(30), s.VolumeML(h)/s.VolumeML(30); math.Abs(got/want-1) > 1e-9 {
				t.Errorf("%+v: from 30 to %g mm the ratio is %g, of volumes %g", s, h, got, want)
			}
			if back := s.HeightOfMM(s.EquivalentMM(h)); math.Abs(back-h) > 1e-9 {
				t.Errorf("%+v: %g mm comes back as %g", s, h, back)
			}
			if s.BottomMM == 85 && s.EquivalentMM(h) != h {
				t.Errorf("in a straight jar %g mm become %g", h, s.EquivalentMM(h))
			}
		}
	}
}
