package laser

import (
	"context"
	"errors"
	"fmt"
	"math"

	"leavend/sensor"
	"leavend/sensor/noise"
)

// Card is what a chip says of a flat card at a known distance, while the light
// of no glass is taken off and nothing is added to its readings.
type Card struct {
	TrueMM float64 // by a ruler
	SeenMM float64 // the mean of the readings
	SD     float64 // of one reading, mm
	Kcps   float64 // light that comes back to each receiver, thousand counts a second
}

// Card measures a card.
func (r *Ranger) Card(ctx context.Context, trueMM float64, readings int) (Card, error) {
	if l := r.steps.Limits; !(trueMM >= l.MinMM && trueMM <= l.MaxMM) || readings < 1 {
		return Card{}, r.reg.Fail("card", fmt.Errorf("a card at %v mm, %d readings: it must lie %v to %v mm away", trueMM, readings, l.MinMM, l.MaxMM))
	}
	ours := *r.steps.TakenKcps
	*r.steps.TakenKcps, r.up = 0, false
	defer func() { *r.steps.TakenKcps, r.up = ours, false }()
	if err := r.setUp(ctx); err != nil {
		return Card{}, err
	}
	var seen []float64
	var light, cells float64
	var last error
	for range readings {
		v, b, err := r.measure(ctx, "card")
		var refused *sensor.Refused
		switch {
		case errors.As(err, &refused):
			last = err
			continue
		case err != nil:
			return Card{}, err
		}
		seen = append(seen, v.Value-r.steps.OffsetMM)
		light += v.Signal * 1000
		cells += r.steps.Cells(b)
	}
	if 2*len(seen) <= readings || cells == 0 {
		return Card{}, fmt.Errorf("only %d of %d readings are good: %w", len(seen), readings, last)
	}
	s := noise.Of(seen)
	return Card{TrueMM: trueMM, SeenMM: s.Mean, SD: s.SD, Kcps: light / cells}, nil
}

// What a pair of cards cannot tell.
var (
	ErrCardNear = errors.New("the card lies too near to show what a cover glass does: it must lie at least twice as far as the card for the offset")
	ErrCardDim  = errors.New("the far card throws back as much light as the near one: take a dull grey one, and darken the room")
)

// clearMM is how much a far card must fall short of what the near one makes
// expect, before that is put down to a glass: what a ruler leaves.
const clearMM = 1

// Solve tells the offset of a chip, which is to be added to its readings, from
// the light of a cover glass, in thousand counts a second and receiver.
//
// A chip is off by the same at each distance. The light of the glass comes
// from distance 0 and the chip sees the mean of all light, so a glass draws a
// reading short by distance times the share of the glass's light in all of it
// (VL53L1X_calibration.c 3.5.0; VL53L0X_perform_xtalk_calibration; AN4545):
// little for a card that is near and bright, much for one that is far and dull.
// One card cannot tell the two apart; ST's manual of the VL53L1X (UM2356, and
// AN5851) therefore wants the offset first, at 140 mm. Two cards give two
// equations:
//
//	seen = true - offset - glass · true/light
func Solve(near, far Card) (offsetMM, glassKcps float64, err error) {
	if far.TrueMM < 2*near.TrueMM {
		return 0, 0, ErrCardNear
	}
	a, b := near.TrueMM/near.Kcps, far.TrueMM/far.Kcps
	if !(b > 1.5*a) {
		return 0, 0, ErrCardDim
	}
	shortNear, shortFar := near.TrueMM-near.SeenMM, far.TrueMM-far.SeenMM
	glassKcps = (shortFar - shortNear) / (b - a)
	if glassKcps*(b-a) < clearMM {
		return shortNear, 0, nil
	}
	return shortNear - glassKcps*a, glassKcps, nil
}

// Glass tells the light of a cover glass from one card, of a chip whose offset
// is known. The nearer the card, the more a wrong offset counts for a glass: a
// millimetre grows with the cube of the distance from the card to the surface.
func Glass(far Card, offsetMM float64) (kcps float64) {
	short := far.TrueMM - far.SeenMM - offsetMM
	if short < clearMM {
		return 0
	}
	return math.Max(0, short*far.Kcps/far.TrueMM)
}
