package timetopeak

import (
	"math"
	"time"

	"leavend/peak/flour"
)

// Flour is one kind of flour in a feed.
type Flour struct {
	Kind  string  // as the baker names it, such as "rye" or "wholemeal wheat"
	Grams float64 // above 0
}

// Feed is what is known of a feed at its moment. Weights of zero mean that
// means unknown; the ratio of the feed before is then taken, with more doubt.
type Feed struct {
	StarterG float64 // ripe starter kept, g
	WaterG   float64 // water added, g
	Flours   []Flour // flour added

	// Rested is the time since the feed before, Chilled how much of that the
	// starter spent in the fridge. Zero means unknown.
	Rested, Chilled time.Duration
}

// Mixed is a feed of so many grams (or parts) of starter, white flour and
// water.
func Mixed(starter, flour, water float64) Feed {
	return Feed{StarterG: starter, WaterG: water, Flours: []Flour{{Kind: "white", Grams: flour}}}
}

// FlourG is the weight of all flour added, g.
func (f Feed) FlourG() float64 {
	sum := 0.0
	for _, fl := range f.Flours {
		sum += fl.Grams
	}
	return sum
}

// known reports whether the ratio can be told from the weights.
func (f Feed) known() bool {
	flour := f.FlourG()
	return f.StarterG > 0 && flour > 0 && f.WaterG >= 0 && !math.IsInf(f.StarterG+flour+f.WaterG, 0) && f.dilution() < 1e4
}

// dilution is how many times the starter was diluted: 3 for 1:1:1.
func (f Feed) dilution() float64 { return (f.StarterG + f.FlourG() + f.WaterG) / f.StarterG }

// hydration is that of the whole, the starter counted as half water: exact
// for the common 100 % starter, near enough for others since it is diluted.
func (f Feed) hydration() float64 {
	return (f.WaterG + f.StarterG/2) / (f.FlourG() + f.StarterG/2)
}

// whole is the share of flour with the bran in it, 0 to 1; rye counts, whose enzymes are
// as lively (common practice: both ferment faster than white flour).
func (f Feed) whole() float64 {
	sum := 0.0
	for _, fl := range f.Flours {
		if flour.Rye(fl.Kind) || flour.Whole(fl.Kind) {
			sum += fl.Grams
		}
	}
	return sum / f.FlourG()
}

// Course is a temperature course: °C at a time after the feed. NaN means that
// is unknown and counts as 22 °C, as a nil Course does.
type Course func(after time.Duration) float64

// Steady is a course that stays at tempC.
func Steady(tempC float64) Course { return func(time.Duration) float64 { return tempC } }

// Settling is a course that begins at fromC and nears toC, half of the way in
// each half-time: dough mixed warm in a cool room, or a jar on a mat.
func Settling(fromC, toC float64, half time.Duration) Course {
	if half <= 0 {
		return Steady(toC)
	}
	return func(after time.Duration) float64 {
		return toC + (fromC-toC)*math.Exp2(-float64(after)/float64(half))
	}
}

// Points is a course through measured temperatures, every apart from the
// feed on, drawn straight in between; it holds the last. Gaps are NaN and are
// bridged.
func Points(every time.Duration, tempsC []float64) Course {
	known := make([]float64, len(tempsC))
	last := math.NaN()
	for i := range tempsC {
		if !math.IsNaN(tempsC[i]) {
			last = tempsC[i]
		}
		known[i] = last
	}
	for i := len(known) - 1; i >= 0; i-- {
		if !math.IsNaN(known[i]) {
			last = known[i]
		} else {
			known[i] = last
		}
	}
	return func(after time.Duration) float64 {
		if len(known) == 0 || every <= 0 {
			return math.NaN()
		}
		x := max(float64(after)/float64(every), 0)
		i := int(x)
		if i >= len(known)-1 {
			return known[len(known)-1]
		}
		return known[i] + (x-float64(i))*(known[i+1]-known[i])
	}
}
