package feedmath

import (
	"slices"
	"time"
)

// Flour is one kind of flour in a feed.
type Flour struct {
	Kind  string
	Grams float64
}

// Feed is a feed as the journal keeps it. A weight of 0 is unknown.
type Feed struct {
	At       time.Time
	KeptG    float64
	Flours   []Flour
	WaterG   float64
	DiscardG float64
	CleanJar bool
}

// FlourG is the weight of all its flour.
func (f Feed) FlourG() float64 {
	var sum float64
	for _, fl := range f.Flours {
		sum += fl.Grams
	}
	return sum
}

// Mix returns the feed's arithmetic for a starter of hydration h.
func (f Feed) Mix(h float64) Mix { return Mix{Starter{f.KeptG, h}, f.FlourG(), f.WaterG} }

// full reports whether all three weights were given.
func (f Feed) full() bool { return f.KeptG > 0 && f.FlourG() > 0 && f.WaterG > 0 }

// suggestFrom is how many of the last feeds a suggestion is made from.
const suggestFrom = 5

// Suggest returns the feed a baker most likely wants: the middle (median) of
// the kept weight and of the ratio of the last five feeds with weights, and
// the newest one's kinds of flour. feeds are newest first. It is false when
// none has weights.
func Suggest(feeds []Feed) (Feed, bool) {
	var kept, flour, water []float64
	var newest Feed
	for _, f := range feeds {
		if !f.full() {
			continue
		}
		if len(kept) == 0 {
			newest = f
		}
		kept = append(kept, f.KeptG)
		flour = append(flour, f.FlourG()/f.KeptG)
		water = append(water, f.WaterG/f.KeptG)
		if len(kept) == suggestFrom {
			break
		}
	}
	if len(kept) == 0 {
		return Feed{}, false
	}
	s := Feed{KeptG: median(kept)}
	total := s.KeptG * median(flour)
	for _, fl := range newest.Flours {
		s.Flours = append(s.Flours, Flour{fl.Kind, fl.Grams / newest.FlourG() * total})
	}
	s.WaterG = s.KeptG * median(water)
	return s, true
}

// median returns the middle value, or the mean of the two in the middle.
func median(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}
