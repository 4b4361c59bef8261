package sim

import (
	"math"
	"math/rand/v2"
	"time"
)

// RangerOpts is the noise and the limits of a simulated distance sensor, part
// by part. The zero value of each field stands for the default named beside
// it; a negative value, or an empty list, stands for none. The functions of
// rangers.go fill it in for the chips that this project drives.
type RangerOpts struct {
	WhiteMM     float64       // new with every reading, one standard deviation; default 0.7
	Wander      []Wander      // remembers itself, so that no averaging takes it off; default 0.5 mm for 90 s
	TempMMPerC  float64       // shift with the air's temperature since the start; default 0
	StepMM      float64       // readings come in steps of this; default 1
	SpikeShare  float64       // share of readings that are far off; default 0.001
	GlintShare  float64       // share that see a gloss 22 to 27 mm away; default 0.0003
	MissShare   float64       // share that fail one by one; default 0.003
	OutageEvery time.Duration // mean time between failures that last; default 0, none
	OutageFor   time.Duration // mean length of those; default 1 min
	NearMM      float64       // nothing closer is measured; default 40
	FarMM       float64       // nothing farther is measured; default 1300
}

func (o RangerOpts) withDefaults() RangerOpts {
	def := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
		*v = math.Max(0, *v)
	}
	def(&o.WhiteMM, 0.7)
	def(&o.StepMM, 1)
	def(&o.SpikeShare, 0.001)
	def(&o.GlintShare, 0.0003)
	def(&o.MissShare, 0.003)
	def(&o.NearMM, 40)
	def(&o.FarMM, 1300)
	if o.Wander == nil {
		o.Wander = []Wander{{MM: 0.5, For: 90 * time.Second}}
	}
	if o.OutageFor <= 0 {
		o.OutageFor = time.Minute
	}
	return o
}

// The status words of the simulated ranger, after the VL53L1X's codes as its
// manual gives them: 0, 1, 2, 4 and 255.
const (
	StatusValid  = "0 valid"
	StatusSigma  = "1 sigma"
	StatusSignal = "2 signal"
	StatusBounds = "4 bounds"
	StatusNone   = "255 none"
)

// ranger measures distances as a chip does: with noise, in steps, and now and
// then not at all.
type ranger struct {
	o      RangerOpts
	rng    *rand.Rand
	wander wandering
	out    bool    // an outage is going on
	startC float64 // the air at the first reading, °C
	begun  bool
}

func newRanger(o RangerOpts, seed uint64) *ranger {
	o = o.withDefaults()
	return &ranger{o: o, rng: NewRand(seed, "ranger"), wander: wandering{terms: o.Wander}}
}

// view is what stands before the ranger: a surface, or trouble.
type view struct {
	distanceMM float64
	extraMM    float64 // more noise than usual, one standard deviation
	biasMM     float64 // droplets and foam shorten or lengthen the path
	missShare  float64 // more failures than usual
	glintShare float64 // more glints than usual
	gone       bool    // unplugged
	airC       float64 // temperature of the air, which the sensor has too
}

// measure returns one reading, rounded to the chip's step, or NaN and why not.
func (r *ranger) measure(v view, since time.Duration) (float64, string) {
	if v.gone {
		return math.NaN(), StatusNone
	}
	wander := r.wander.next(since, r.rng)
	if r.outage(since) {
		return math.NaN(), StatusSignal
	}
	switch p := r.rng.Float64(); {
	case p < r.o.MissShare+v.missShare:
		if r.rng.IntN(2) == 0 {
			return math.NaN(), StatusSigma
		}
		return math.NaN(), StatusSignal
	case p < r.o.MissShare+v.missShare+r.o.GlintShare+v.glintShare:
		// Seen on glossy tilted targets, with a status that says valid.
		return 22 + math.Floor(6*r.rng.Float64()), StatusValid
	case p < r.o.MissShare+v.missShare+r.o.GlintShare+v.glintShare+r.o.SpikeShare:
		return r.step(between(r.rng, r.o.NearMM, 2.2*v.distanceMM)), StatusValid
	}
	d := v.distanceMM + v.biasMM + wander + r.o.WhiteMM*r.rng.NormFloat64() + r.o.TempMMPerC*r.warmedBy(v.airC)
	if v.extraMM > 0 {
		d += v.extraMM * r.rng.NormFloat64()
	}
	if d < r.o.NearMM {
		// Too close: most readings fail, the rest stand at the limit.
		if r.rng.Float64() < 0.7 {
			return math.NaN(), StatusBounds
		}
		return r.step(r.o.NearMM + 2*r.rng.Float64()), StatusValid
	}
	if d > r.o.FarMM {
		return math.NaN(), StatusSignal
	}
	return r.step(d), StatusValid
}

// warmedBy returns how much warmer the air is than at the first reading.
func (r *ranger) warmedBy(airC float64) float64 {
	if !r.begun {
		r.startC, r.begun = airC, true
	}
	return airC - r.startC
}

// outage reports whether the readings fail for a while.
func (r *ranger) outage(since time.Duration) bool {
	if r.o.OutageEvery <= 0 {
		return false
	}
	mean := r.o.OutageEvery
	if r.out {
		mean = r.o.OutageFor
	}
	if r.rng.Float64() < -math.Expm1(-since.Seconds()/mean.Seconds()) {
		r.out = !r.out
	}
	return r.out
}

func (r *ranger) step(mm float64) float64 {
	if r.o.StepMM <= 0 {
		return mm
	}
	return math.Round(mm/r.o.StepMM) * r.o.StepMM
}
