package sim

import "math"

// Vessel is a jar or a bowl: a round bore that may widen towards the rim.
type Vessel struct {
	BottomMM float64 // inner diameter at the bottom; default 85
	TopMM    float64 // inner diameter at the rim; default as BottomMM
	RimMM    float64 // inner depth from rim to bottom; default 160
	SensorMM float64 // from the sensor's face down to the vessel's inner bottom; default RimMM + 50
}

func (v Vessel) withDefaults() Vessel {
	if v.BottomMM == 0 {
		v.BottomMM = 85
	}
	if v.TopMM == 0 {
		v.TopMM = v.BottomMM
	}
	if v.RimMM == 0 {
		v.RimMM = 160
	}
	if v.SensorMM == 0 {
		v.SensorMM = v.RimMM + 50
	}
	return v
}

// VolumeML is the volume below a level surface at heightMM: the frustum of a
// cone, continued above the rim.
func (v Vessel) VolumeML(heightMM float64) float64 {
	r0 := v.BottomMM / 2
	r1 := r0 + v.slope()*heightMM
	return math.Pi * heightMM / 3 * (r0*r0 + r0*r1 + r1*r1) / 1000
}

// HeightMM is the height of a level surface over the given volume.
func (v Vessel) HeightMM(volumeML float64) float64 {
	r0, k := v.BottomMM/2, v.slope()
	if math.Abs(k) < 1e-9 {
		return volumeML * 1000 / (math.Pi * r0 * r0)
	}
	// r(h)³ − r0³ = 3kV/π for a straight flank.
	r := math.Cbrt(r0*r0*r0 + 3*k*volumeML*1000/math.Pi)
	return (r - r0) / k
}

// slope is the gain of radius per millimetre of height.
func (v Vessel) slope() float64 { return (v.TopMM - v.BottomMM) / 2 / v.RimMM }
