package sim

import (
	"math"
	"math/rand/v2"
)

// probeStep is the resolution of a DS18B20 at 12 bits (data sheet, table 1).
const probeStep = 1.0 / 16

// powerOnC is what a DS18B20 shows before its first conversion, with a
// checksum that is right (data sheet).
const powerOnC = 85.0

// probe reads a temperature as a DS18B20 does: in sixteenths of a degree,
// with a little noise and an offset of its own.
type probe struct {
	rng     *rand.Rand
	noise   float64 // one standard deviation, °C
	offset  float64 // within the data sheet's ±0.5 °C
	last    float64
	stuck   bool // keeps saying what it said last
	gone    bool // unplugged
	powerOn bool // lost its supply for a moment: says 85
}

func newProbe(noise, offset float64, seed uint64, name string) *probe {
	return &probe{rng: NewRand(seed, "probe "+name), noise: noise, offset: offset, last: math.NaN()}
}

// measure returns what the probe says at trueC, or NaN when it says nothing.
func (p *probe) measure(trueC float64) float64 {
	v := trueC + p.offset + p.noise*p.rng.NormFloat64()
	v = math.Round(v/probeStep) * probeStep
	switch {
	case p.gone:
		return math.NaN()
	case p.powerOn:
		return powerOnC
	case p.stuck && !math.IsNaN(p.last):
		return p.last
	}
	p.last = v
	return v
}
