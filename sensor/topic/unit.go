package topic

import (
	"fmt"

	"leavend/sensor"
)

// unit converts a number into the unit of its quantity, and holds the range of
// its readings.
type unit struct {
	scale, offset float64
	min, max      float64
}

func (u unit) convert(v float64) float64 { return v*u.scale + u.offset }

// Units returns the units in which a quantity may come, the first being the one
// that is taken where none is given.
func Units(q sensor.Quantity) []string {
	return map[sensor.Quantity][]string{
		sensor.Distance:    {"mm", "cm", "m", "in"},
		sensor.Temperature: {"C", "F", "K"},
		sensor.Humidity:    {"%"},
	}[q]
}

// findUnit looks a unit up. The inch is 25.4 mm exactly (ISO 80000-3), and
// °F = 1.8·°C + 32.
func findUnit(q sensor.Quantity, name string) (unit, error) {
	var u unit
	var known map[string][2]float64
	switch q {
	case sensor.Distance:
		u.min, u.max = 1, 4000
		known = map[string][2]float64{"": {1, 0}, "mm": {1, 0}, "cm": {10, 0}, "m": {1000, 0}, "in": {25.4, 0}}
	case sensor.Temperature:
		u.min, u.max = -40, 125
		known = map[string][2]float64{"": {1, 0}, "C": {1, 0}, "°C": {1, 0}, "K": {1, -273.15},
			"F": {5.0 / 9, -160.0 / 9}, "°F": {5.0 / 9, -160.0 / 9}}
	case sensor.Humidity:
		u.min, u.max = 0, 100
		known = map[string][2]float64{"": {1, 0}, "%": {1, 0}}
	default:
		return u, fmt.Errorf("it must measure a distance, a temperature or a humidity")
	}
	c, ok := known[name]
	if !ok {
		return u, fmt.Errorf("unit %q does not measure a %s (mm, cm, m, in; C, F, K; %%)", name, q)
	}
	u.scale, u.offset = c[0], c[1]
	return u, nil
}
