package bustest

import "math"

// Glass is a cover glass over an emulated laser ranger. Its light comes from
// distance 0 and is always the same, so it draws the distance that the chip
// sees, the mean of all light, towards the chip: the more, the farther or
// darker the target is.
type Glass struct {
	Mcps float64 // light that it throws back, million counts a second
	n    int
}

// Through returns the distance and the light that the chip sees of a target,
// when it takes some light off at distance 0. No light is left where it takes
// off more than there is. The distance is in whole millimetres, which scatter
// so that their mean is right, as the last digit of a real chip does.
func (g *Glass) Through(mm, mcps, taken float64) (seenMM, seenMcps float64) {
	if g.Mcps == 0 && taken == 0 {
		return mm, mcps
	}
	g.n++
	left := mcps + g.Mcps - taken
	if left <= 0 {
		return 0, 0
	}
	_, dither := math.Modf(float64(g.n) * 0.6180339887)
	return math.Floor(mm*mcps/left + 1e-9 + dither*0.999), left
}
