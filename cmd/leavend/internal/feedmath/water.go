package feedmath

// The water decides how warm a dough begins, for it is the only part whose temperature
// a baker chooses.

// FrictionC is by how much kneading warms a dough by hand: a guess of little.
const FrictionC = 1.0

// The coldest and the warmest water that is mixed in: from a fridge, and what a
// starter bears (common practice).
const (
	ColdestWaterC = 4.0
	WarmestWaterC = 40.0
)

// WaterC is how warm the water must be for a dough to come to a temperature: the
// baker's usual sum (common practice), four times the wanted less flour, starter, room
// and friction. It is false where no water that a starter bears will do; the nearest
// is returned then.
func WaterC(wantC, flourC, starterC, roomC float64) (float64, bool) {
	c := 4*wantC - flourC - starterC - roomC - FrictionC
	return min(max(c, ColdestWaterC), WarmestWaterC), c >= ColdestWaterC && c <= WarmestWaterC
}

// DoughC is how warm a dough becomes of water at a temperature, by the same sum.
func DoughC(waterC, flourC, starterC, roomC float64) float64 {
	return (waterC + flourC + starterC + roomC + FrictionC) / 4
}
