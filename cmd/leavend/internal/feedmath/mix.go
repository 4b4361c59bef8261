// Package feedmath does the baker's arithmetic: ratio, hydration, what to keep and add for tomorrow's bake, and what is due.
//
// Weights are grams. A hydration is water over flour, as a fraction: 1.0 is
// 100 %. The formulas are common practice of the trade: hydration is water by
// weight over flour by weight, in a mix the sums of both; a starter of weight
// s and hydration h holds s/(1+h) of flour and s·h/(1+h) of water.
//
// Nothing here says that a starter is safe to eat. A curve cannot show mould.
package feedmath

import (
	"errors"
	"fmt"
	"math"
	"strconv"
)

// Starter is a weight of starter with its hydration.
type Starter struct {
	Grams     float64
	Hydration float64
}

// FlourG is the flour in the starter.
func (s Starter) FlourG() float64 { return s.Grams / (1 + s.Hydration) }

// WaterG is the water in the starter.
func (s Starter) WaterG() float64 { return s.Grams - s.FlourG() }

// Mix is starter with the flour and water it is given: a feed, a levain, or a
// dough.
type Mix struct {
	Kept   Starter
	FlourG float64
	WaterG float64
}

// TotalG is the weight of the whole.
func (m Mix) TotalG() float64 { return m.Kept.Grams + m.FlourG + m.WaterG }

// Hydration is that of the whole, the starter's own flour and water counted
// in. It is false when there is no flour at all.
func (m Mix) Hydration() (float64, bool) {
	return over(m.WaterG+m.Kept.WaterG(), m.FlourG+m.Kept.FlourG())
}

// AddedHydration is that of what is added only.
func (m Mix) AddedHydration() (float64, bool) { return over(m.WaterG, m.FlourG) }

// Ratio is starter : flour : water by weight, with the starter as 1.
func (m Mix) Ratio() (Ratio, bool) {
	if !(m.Kept.Grams > 0) {
		return Ratio{}, false
	}
	return Ratio{1, m.FlourG / m.Kept.Grams, m.WaterG / m.Kept.Grams}, true
}

// over divides, and is false where that has no meaning.
func over(a, b float64) (float64, bool) {
	if !(b > 0) || math.IsInf(b, 0) || math.IsNaN(a) {
		return 0, false
	}
	return a / b, true
}

// Ratio is starter : flour : water by weight.
type Ratio struct{ Starter, Flour, Water float64 }

// String writes a ratio as bakers do: 1:5:5, or 1:2.5:2.5. More than a tenth
// of a part that is not weighed.
func (r Ratio) String() string {
	return part(r.Starter) + ":" + part(r.Flour) + ":" + part(r.Water)
}

func part(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
}

// Sum is the number of parts.
func (r Ratio) Sum() float64 { return r.Starter + r.Flour + r.Water }

var errRatio = errors.New("a ratio needs starter and flour above 0, and water not below")

// Check refuses a ratio that cannot be mixed.
func (r Ratio) Check() error {
	if !(r.Starter > 0 && r.Flour > 0 && r.Water >= 0) || math.IsInf(r.Sum(), 0) {
		return fmt.Errorf("ratio %v: %w", r, errRatio)
	}
	return nil
}
