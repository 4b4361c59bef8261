package dough

import (
	"math"
	"time"

	"leavend/peak/timetopeak"
)

// Cooling is how a dough cools in a fridge: by half of what is left, again and again
// (Newton's law). The zero Cooling is a kilogram at 4 °C.
type Cooling struct {
	FridgeC float64       // default 4
	MassKg  float64       // default 1
	Slow    time.Duration // in which it loses 63 % of its excess, where that was measured; else by mass
}

// byMass is the time constant of a kilogram in a bowl or basket: computed for a heat
// transfer of 7 W/m²K over 0.045 m² and 2.8 kJ/kg K, which is 2.5 h, with half an hour
// for the way from the middle outwards. A larger dough has less surface for its mass.
const (
	byMass    = 3 * time.Hour
	massPower = 0.4 // a third for the surface, and a little for the way
)

// In returns the time constant.
func (c Cooling) In() time.Duration {
	if c.Slow > 0 {
		return c.Slow
	}
	kg := c.MassKg
	if !(kg > 0) {
		kg = 1
	}
	return time.Duration(float64(byMass) * math.Pow(kg, massPower))
}

func (c Cooling) fridgeC() float64 {
	if c.FridgeC == 0 {
		return 4
	}
	return c.FridgeC
}

// Course is the warmth of a dough that goes into the fridge at a temperature.
func (c Cooling) Course(fromC float64) timetopeak.Course {
	to, in := c.fridgeC(), c.In()
	return func(after time.Duration) float64 {
		return to + (fromC-to)*math.Exp(-float64(after)/float64(in))
	}
}

// Until returns how long a dough takes to come down to a temperature; false where it
// never does.
func (c Cooling) Until(fromC, toC float64) (time.Duration, bool) {
	to := c.fridgeC()
	if fromC <= toC {
		return 0, true
	}
	if toC <= to {
		return 0, false
	}
	return time.Duration(float64(c.In()) * math.Log((fromC-to)/(toC-to))), true
}

// GoesOn is what a dough still does in the fridge for so long, in hours at 25 °C.
func (c Cooling) GoesOn(fromC float64, stay time.Duration) float64 {
	hours, _ := warmHours(c.Course(fromC), stay)
	return hours
}

// MeasuredCooling fits the time constant to readings of a probe in the dough, taken
// after it went into the fridge; false where they tell too little. It is the slope of
// the logarithm of the excess, by least squares.
func MeasuredCooling(fridgeC float64, after []time.Duration, tempC []float64) (time.Duration, bool) {
	var n, st, sy, stt, sty float64
	for i, c := range tempC {
		if excess := c - fridgeC; excess > 2 { // nearer than that the probe's own error counts
			t, y := after[i].Hours(), math.Log(excess)
			n, st, sy, stt, sty = n+1, st+t, sy+y, stt+t*t, sty+t*y
		}
	}
	det := n*stt - st*st
	if n < 6 || det < 1e-9 {
		return 0, false
	}
	slope := (n*sty - st*sy) / det
	if !(slope < -0.05 && slope > -10) {
		return 0, false
	}
	return time.Duration(float64(time.Hour) / -slope), true
}

// Scale is how many times as long dough takes to one rise as to another, each a share
// of its volume at the mixing.
func Scale(rise, than float64) float64 {
	if !(rise > 0 && than > 0) {
		return 1
	}
	return math.Pow(rise/than, riseBy)
}
