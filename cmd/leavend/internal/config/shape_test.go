package config

import "testing"

func TestShape(t *testing.T) {
	bowl := Vessel{FloorMM: 260, BottomMM: 160, TopMM: 250, HeightMM: 150}
	if s, ok := bowl.Shape(); !ok || s.BottomMM != 160 || s.TopMM != 250 {
		t.Errorf("a measured bowl: %+v, %v", s, ok)
	}
	for name, change := range map[string]func(*Vessel){
		"without a floor":    func(v *Vessel) { v.FloorMM = 0 },
		"without a diameter": func(v *Vessel) { v.BottomMM = 0 },
		"without a height":   func(v *Vessel) { v.HeightMM = 0 },
	} {
		v := bowl
		change(&v)
		if _, ok := v.Shape(); ok {
			t.Errorf("%s it has a shape", name)
		}
	}
}

func TestAliquot(t *testing.T) {
	const text = `[[sensor]]
name = "eye"
chip = "kitchen"
[[vessel]]
name = "Glass"
kind = "aliquot"
distance = "eye"
bore_bottom_mm = 50
height_mm = 120
target_ratio = 1.6
`
	c, err := Parse([]byte(text), "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	if v := c.Vessels[0]; v.Kind != Bowl || !v.Aliquot || v.TargetRatio != 1.6 {
		t.Errorf("got %+v", v)
	}
	if _, err := Parse([]byte(text+"bore_top_mm = 70\n"), "leavend.toml"); err == nil {
		t.Error("an aliquot jar that widens was taken")
	}
}
