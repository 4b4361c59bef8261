// Package ntc turns the resistance of a thermistor into a temperature, by the
// beta equation or by that of Steinhart and Hart (Deep-Sea Research 15 (1968)
// 497), and the voltage of a divider into a resistance.
//
// Beta comes from the part's label and is good to about a degree within 25 °C
// of its reference; Steinhart and Hart's three constants, which makers give, are
// good to some thousandths of a degree over the whole range of a kitchen.
package ntc

import (
	"errors"
	"math"
)

const zeroC = 273.15 // K

// Curve turns ohms into degrees.
type Curve interface {
	TempC(ohms float64) float64
}

// Beta is the equation 1/T = 1/T0 + ln(R/R0)/B with T0 = 25 °C.
type Beta struct {
	OhmsAt25 float64 // usually 10,000
	B        float64 // kelvin, usually 3380 to 3950
}

// TempC returns the temperature at a resistance.
func (c Beta) TempC(ohms float64) float64 {
	return 1/(1/(25+zeroC)+math.Log(ohms/c.OhmsAt25)/c.B) - zeroC
}

// SteinhartHart is the equation 1/T = A + B·ln R + C·(ln R)³.
type SteinhartHart struct{ A, B, C float64 }

// TempC returns the temperature at a resistance.
func (c SteinhartHart) TempC(ohms float64) float64 {
	l := math.Log(ohms)
	return 1/(c.A+c.B*l+c.C*l*l*l) - zeroC
}

// What a divider may say that is no temperature.
var (
	ErrOpen  = errors.New("the thermistor is open: a broken wire, or nothing plugged in")
	ErrShort = errors.New("the thermistor is shorted: water in the plug, or a pinched wire")
)

// Divider is a thermistor in series with a fixed resistor across a supply.
type Divider struct {
	Ohms float64 // the fixed resistor
	High bool    // the thermistor is on the supply's side; otherwise on ground's
}

// Resistance returns the thermistor's ohms from the share of the supply that
// stands across the lower of the two. A share within 2 % of either end is an
// open or shorted thermistor: with equal resistors that is beyond -50 and
// +140 °C.
func (d Divider) Resistance(share float64) (float64, error) {
	if d.High {
		share = 1 - share
	}
	switch {
	case math.IsNaN(share):
		return 0, errors.New("no supply across the divider")
	case share > 0.98:
		return 0, ErrOpen
	case share < 0.02:
		return 0, ErrShort
	}
	return d.Ohms * share / (1 - share), nil
}
