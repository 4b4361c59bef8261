package dough

import (
	"math"
	"time"
)

// Cooling is how a dough cools in a fridge: by half of what is left, again and again
// (Newton's law). The zero Cooling is a kilogram at 4 °C.
type Cooling struct {
	FridgeC float64 // default 4
	MassKg  float64 // default 1
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

// Scale is how many times as long dough takes to one rise as to another, each a share
// of its volume at the mixing.
func Scale(rise, than float64) float64 {
	if !(rise > 0 && than > 0) {
		return 1
	}
	return math.Pow(rise/than, riseBy)
}
