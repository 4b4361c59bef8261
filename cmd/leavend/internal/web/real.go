package web

import (
	"math"
	"strconv"
	"time"
)

// Real is a number on its way to the page: what is not finite becomes null,
// and digits beyond a tenth of a thousandth are dropped.
type Real float64

// MarshalJSON writes null for what JSON has no number for.
func (r Real) MarshalJSON() ([]byte, error) {
	return appendReal(nil, float64(r)), nil
}

func appendReal(b []byte, v float64) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(b, "null"...)
	}
	rounded := math.Round(v*1e4) / 1e4
	if math.IsInf(rounded, 0) { // v is so large that the scaling overflowed
		rounded = v
	}
	if rounded == 0 {
		rounded = 0 // no negative zero
	}
	format := byte('f')
	if math.Abs(rounded) >= 1e15 {
		format = 'g'
	}
	return strconv.AppendFloat(b, rounded, format, -1, 64)
}

// Column is one column of a series. A gap is NaN here and null on the wire.
type Column []float64

// MarshalJSON writes gaps as null.
func (c Column) MarshalJSON() ([]byte, error) {
	b := make([]byte, 0, 8*len(c)+2)
	b = append(b, '[')
	for i, v := range c {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendReal(b, v)
	}
	return append(b, ']'), nil
}

// Moments is a column of times. On the wire it is Unix seconds, for a
// thousand written-out times weigh more than the curve itself.
type Moments []time.Time

// MarshalJSON writes Unix seconds.
func (m Moments) MarshalJSON() ([]byte, error) {
	b := make([]byte, 0, 11*len(m)+2)
	b = append(b, '[')
	for i, t := range m {
		if i > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendInt(b, t.Unix(), 10)
	}
	return append(b, ']'), nil
}

// Measure is a number with the moment it was taken, so that the page can
// always say how old it is.
type Measure struct {
	Value Real      `json:"value"`
	At    time.Time `json:"at"`
}
