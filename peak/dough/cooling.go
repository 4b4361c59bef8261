package dough

import (
	"math"
	"time"

	"leavend/peak"
)

// Cooling is how a dough cools in a fridge: by half of what is left, again and again
// (Newton's law). The zero Cooling is a kilogram at 4 °C.
type Cooling struct {
	FridgeC float64       // default 4
	MassKg  float64       // default 1
	Halves  time.Duration // how long half of the way takes in this fridge, where it was measured; 0: by the mass
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
	if c.Halves > 0 {
		return time.Duration(float64(c.Halves) / math.Ln2)
	}
	kg := c.MassKg
	if !(kg > 0) {
		kg = 1
	}
	return time.Duration(float64(byMass) * math.Pow(kg, massPower))
}

// Temp is the fridge's temperature, °C.
func (c Cooling) Temp() float64 {
	if c.FridgeC == 0 {
		return 4
	}
	return c.FridgeC
}

// Until returns how long a dough takes to come down to a temperature; false where it
// never does.
func (c Cooling) Until(fromC, toC float64) (time.Duration, bool) {
	to := c.Temp()
	if fromC <= toC {
		return 0, true
	}
	if toC <= to {
		return 0, false
	}
	return time.Duration(float64(c.In()) * math.Log((fromC-to)/(toC-to))), true
}

// WarmHours is how many hours at 25 °C a stay in the fridge is worth to the dough: most of
// them while it cools.
func (c Cooling) WarmHours(fromC float64, stay time.Duration) float64 {
	to, in, sum := c.Temp(), float64(c.In()), 0.0
	for t := time.Duration(0); t < stay; t += step {
		now := to + (fromC-to)*math.Exp(-float64(t+step/2)/in)
		sum += peak.Pace(now) * min(step, stay-t).Hours()
	}
	return sum
}

// Risen is by which share dough has risen that had risen by one already, and then works
// on for some hours at 25 °C; doubles is how many of these it takes to double.
func Risen(rise, hours, doubles float64) float64 {
	return math.Pow(math.Pow(rise, riseBy)+hours/doubles, 1/riseBy)
}

// Scale is how many times as long dough takes to one rise as to another, each a share
// of its volume at the mixing.
func Scale(rise, than float64) float64 {
	if !(rise > 0 && than > 0) {
		return 1
	}
	return math.Pow(rise/than, riseBy)
}
