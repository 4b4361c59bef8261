package dough

import (
	"fmt"
	"math"
	"slices"
	"time"

	"leavend/peak"
)

// Next is what follows the bulk.
type Next uint8

const (
	RoomProof Next = iota // shaped dough proofs in the room or on the mat
	ColdProof             // shaped dough proofs in the fridge, and goes on while it cools
	RyeBake               // rye, which is baked from its only rise
)

// Stop is by how much dough has risen when its bulk should end, at a temperature of
// the dough. A rise is a share of its volume at the mixing: 0.5 is half as much again.
type Stop struct {
	DoughC   float64
	ColdRise float64 // before a cold proof
	RoomRise float64 // before a proof in the room
	RyeRise  float64 // of rye; it should show cracks by then
}

// Stops is a table of them, the warmest first.
type Stops []Stop

// UsualStops are common practice, with no source: for wheat with a fifth of starter
// from 30 % at 27 °C to 100 % below 20 °C before a cold proof, for warm dough goes on
// rising for hours in the fridge; 75 to 100 % before a proof in the room; rye 30 to
// 50 %. What lies between is drawn evenly.
func UsualStops() Stops {
	return Stops{
		{DoughC: 27, ColdRise: 0.30, RoomRise: 0.75, RyeRise: 0.30},
		{DoughC: 24, ColdRise: 0.50, RoomRise: 0.75, RyeRise: 0.40},
		{DoughC: 21, ColdRise: 0.75, RoomRise: 0.90, RyeRise: 0.50},
		{DoughC: 19.5, ColdRise: 1.00, RoomRise: 1.00, RyeRise: 0.50},
	}
}

// Check says what is wrong with a table, or nil.
func (s Stops) Check() error {
	for i, row := range s {
		if !(row.DoughC >= 5 && row.DoughC <= 40) {
			return fmt.Errorf("a dough of %.4g °C; it must be between 5 and 40", row.DoughC)
		}
		if i > 0 && row.DoughC >= s[i-1].DoughC {
			return fmt.Errorf("%.4g °C does not come below %.4g °C; write the warmest first", row.DoughC, s[i-1].DoughC)
		}
		for _, r := range []float64{row.ColdRise, row.RoomRise, row.RyeRise} {
			if !(r >= 0.1 && r <= 3) {
				return fmt.Errorf("at %.4g °C a rise of %.4g %%; it must be between 10 and 300", row.DoughC, 100*r)
			}
		}
	}
	return nil
}

// Rise is by how much dough of a temperature should have risen before what follows.
func (s Stops) Rise(tempC float64, next Next) float64 {
	if len(s) == 0 || math.IsNaN(tempC) {
		return 0.75
	}
	of := func(row Stop) float64 {
		switch next {
		case ColdProof:
			return row.ColdRise
		case RyeBake:
			return row.RyeRise
		}
		return row.RoomRise
	}
	i := slices.IndexFunc(s, func(row Stop) bool { return row.DoughC <= tempC })
	switch i {
	case -1:
		return of(s[len(s)-1])
	case 0:
		return of(s[0])
	}
	warm, cool := s[i-1], s[i]
	return of(cool) + (of(warm)-of(cool))*(tempC-cool.DoughC)/(warm.DoughC-cool.DoughC)
}

// What the table is for: a loaf of a kilogram with a fifth of starter, one night in a
// fridge at 4 °C.
const (
	night       = 12 * time.Hour
	leastBefore = 0.15 // no bulk ends before: the dough has no strength yet (common practice)
)

// usualDoubles is how many hours at 25 °C such a dough takes to double.
func usualDoubles() float64 {
	r := Practice(usualShare)
	return r.Time.Hours() * peak.Pace(r.AtC)
}

// Whole is by how much dough has risen in all once it comes out of the fridge, if its
// bulk ended at a rise and a temperature: what such a dough rises while it cools is in it.
func Whole(ended, tempC float64) float64 {
	return Risen(ended, Cooling{}.WarmHours(tempC, night), usualDoubles())
}

// Before is by how much dough should have risen when its bulk ends before a night in a
// fridge, so that it comes no further in all than the table means with such an end. A
// large dough, a warm fridge or a fast dough end it earlier; doubles is how many hours at 25 °C
// the dough takes to double.
func Before(ended, tempC, doubles float64, fridge Cooling) float64 {
	if !(doubles > 0) {
		return ended
	}
	left := math.Pow(Whole(ended, tempC), riseBy) - fridge.WarmHours(tempC, night)/doubles
	return min(ended, math.Pow(max(left, math.Pow(leastBefore, riseBy)), 1/riseBy))
}
