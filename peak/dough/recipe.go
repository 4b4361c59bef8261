package dough

import (
	"math"
	"time"
)

// Recipe is what is known of a dough before it is mixed: a word on how long it
// takes.
type Recipe struct {
	Name  string        // doughs of one name have something in common; "" has none
	Time  time.Duration // from the mixing to the target
	AtC   float64       // at this warmth, °C
	Rise  float64       // to this rise ratio; 0 is whatever the baker's target is
	Tried bool          // the baker's own experience, and not common practice
}

// Practice is common practice for a lean dough with so much starter in a part of
// flour. Of a fifth it is said that it doubles in six to eight hours where it is
// warm, and elsewhere that it has risen by three quarters in four to five at
// 25 °C; this lies between. Another share takes longer or shorter by the
// generations that the culture must grow (as in package timetopeak: the logarithm
// of the dilution, plus a little that is not dilution). Without the
// share, or no dough has such a one, a fifth is taken.
func Practice(share float64) Recipe {
	if !(share >= 0.01 && share <= 2) {
		share = usualShare
	}
	return Recipe{Time: time.Duration(6 * float64(time.Hour) * work(share) / work(usualShare)), AtC: 25, Rise: 2}
}

const usualShare = 0.2

// work is the growth that a share of starter needs, for a dough of two thirds
// water.
func work(share float64) float64 { return math.Log((1+0.67+share)/share) + 0.05 }

// usable reports whether the recipe says anything.
func (r Recipe) usable() bool {
	return r.Time >= time.Minute && r.Time <= 14*24*time.Hour && r.AtC > 3 && r.AtC < 45 && (r.Rise == 0 || r.Rise > 1)
}
