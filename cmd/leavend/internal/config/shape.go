package config

import "leavend/sensor/jar"

// Shape is the vessel's inside; false where its measures are not all known. Where
// they are, a rise is counted in volume, and else in height.
func (v Vessel) Shape() (jar.Shape, bool) {
	s := jar.Shape{BottomMM: v.BottomMM, TopMM: v.TopMM, HeightMM: v.HeightMM}
	if !v.Calibrated() || s.Check() != nil {
		return jar.Shape{}, false
	}
	return s, true
}
