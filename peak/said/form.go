package said

import (
	"fmt"
	"math"
	"time"
)

// Form is how a reader has numbers written. Its zero value is metric, on a
// 24-hour clock, in UTC.
type Form struct {
	Zone    *time.Location
	Hours12 bool
	US      bool // °F and ounces
}

func (f Form) in(t time.Time) time.Time {
	if f.Zone == nil {
		return t.UTC()
	}
	return t.In(f.Zone)
}

// Clock is a time of day: 14:20, or 2:20 pm.
func (f Form) Clock(t time.Time) string {
	if f.Hours12 {
		return f.in(t).Format("3:04 pm")
	}
	return f.in(t).Format("15:04")
}

// Day is a date: Sat 28 Nov.
func (f Form) Day(t time.Time) string { return f.in(t).Format("Mon 2 Jan") }

// Near is a time of day, with its day where that is not the one of from. Where
// the day of the week alone could be another week's, the date stands with it.
func (f Form) Near(t, from time.Time) string {
	switch {
	case from.IsZero() || f.Day(t) == f.Day(from):
		return f.Clock(t)
	case t.Sub(from).Abs() >= 6*24*time.Hour:
		return f.Day(t) + " " + f.Clock(t)
	}
	return f.in(t).Format("Mon ") + f.Clock(t)
}

// Degrees is a warmth given in °C, as short as it goes.
func (f Form) Degrees(c float64) string { return f.degrees(c, 0) }

func (f Form) degrees(c float64, digits int) string {
	if f.US {
		return fmt.Sprintf("%.*f °F", digits, c*9/5+32)
	}
	if digits == 0 && math.Abs(c-math.Round(c)) > 0.05 {
		digits = 1
	}
	return fmt.Sprintf("%.*f °C", digits, c)
}

// gramsPerOunce is exact (the international avoirdupois ounce).
const gramsPerOunce = 28.349523125

// Grams is a weight. A tenth of an ounce is too coarse for what weighs little:
// of 10 g of salt it would make 11.
func (f Form) Grams(g float64) string {
	if !f.US {
		return fmt.Sprintf("%.0f g", g)
	}
	if oz := g / gramsPerOunce; oz >= 1.95 {
		return fmt.Sprintf("%.1f oz", oz)
	} else {
		return fmt.Sprintf("%.2f oz", oz)
	}
}

// Height is how high something stands or rose.
func (f Form) Height(mm float64) string {
	if f.US {
		return fmt.Sprintf("%.1f in", mm/25.4)
	}
	return fmt.Sprintf("%.0f mm", mm)
}
