package sim

import (
	"math"
	"math/rand/v2"
	"time"
)

// station is one vessel in its place under a ranger, with whatever befalls
// it. Recordings and the live kitchen share it.
type station struct {
	vessel  Vessel
	starter *Starter
	ranger  *ranger
	rng     *rand.Rand

	doughML  float64 // without gas
	heightMM float64 // of the middle of the surface, as a perfect sensor would see it
	offMM    float64 // how much nearer the jar stands than at first
	handMM   float64 // where the hand is
	foam     float64 // where the foam is, in units of its standard deviation
	airC     float64 // temperature of the air around the ranger
	runsOver bool    // over the rim since the last advance

	script script[Event] // still to come
	active []Event       // going on
}

// happen lets begin what is due at now and end what is over.
func (s *station) happen(now time.Duration) {
	kept := s.active[:0]
	for _, e := range s.active {
		if now < e.At+e.For {
			kept = append(kept, e)
		} else if e.Kind == Lifted {
			s.offMM = e.Amount
		}
	}
	s.active = kept
	for {
		e, at, ok := s.script.next(now)
		if !ok {
			return
		}
		e.At = at
		s.begin(e)
	}
}

func (s *station) begin(e Event) {
	switch e.Kind {
	case Knocked:
		s.starter.Knock(e.Amount)
	case Stirred:
		s.starter.Stir()
	case Hand:
		s.handMM = between(s.rng, 25, 90)
	}
	if e.For > 0 {
		s.active = append(s.active, e)
	} else if e.Kind == Lifted {
		s.offMM = e.Amount
	}
}

// feed discards and feeds: fillML of dough at tempC is left in the vessel (0
// leaves as much as there was).
func (s *station) feed(r Ratio, fillML, offMM, tempC float64) {
	s.starter.Feed(r)
	s.starter.tempC = tempC
	if fillML > 0 {
		s.doughML = fillML
	}
	s.offMM = offMM
	s.heightMM = s.vessel.HeightMM(s.doughML * s.starter.Swelling())
}

// advance lets dt pass at the given temperature of the contents.
func (s *station) advance(dt time.Duration, tempC float64) {
	s.starter.Step(dt, tempC)
	level := s.vessel.HeightMM(s.doughML * s.starter.Swelling())
	s.runsOver = level > s.vessel.RimMM
	if s.runsOver {
		// What stands above the rim runs down the outside, gas and dough alike.
		s.doughML = s.vessel.VolumeML(s.vessel.RimMM) / s.starter.Swelling()
		level = s.vessel.RimMM
	}
	free := level + s.starter.DomeMM()
	if e, ok := going(s.active, Sticking); ok && math.Abs(free-s.heightMM) < e.Amount {
		return // the skin clings to the glass
	}
	s.heightMM = free
}

// look is one reading of the ranger, or NaN and the chip's word for why not.
func (s *station) look(since time.Duration) (float64, string) {
	v := view{distanceMM: s.vessel.SensorMM - s.heightMM - s.offMM, airC: s.airC}
	for _, e := range s.active {
		s.disturb(&v, e, since)
	}
	return s.ranger.measure(v, since)
}

// disturb puts what is going on before the ranger.
func (s *station) disturb(v *view, e Event, since time.Duration) {
	switch e.Kind {
	case Lifted, Chilled:
		// The bare table, a little below the vessel's inner bottom.
		v.distanceMM, v.biasMM = s.vessel.SensorMM+6, 0
		if e.Kind == Lifted && s.rng.Float64() < 0.25 {
			v.distanceMM = between(s.rng, 30, s.vessel.SensorMM) // arms and jars pass by
		}
	case Hand:
		s.handMM = clamp(s.handMM+4*s.rng.NormFloat64(), 15, 120)
		v.distanceMM, v.extraMM = s.handMM, 5
	case Foaming:
		keep := math.Exp(-since.Hours() / 0.2)
		s.foam = keep*s.foam + math.Sqrt(1-keep*keep)*s.rng.NormFloat64()
		v.biasMM += e.Amount * s.foam
		v.extraMM += 0.5 * e.Amount
	case Condensing:
		v.biasMM -= e.Amount
		v.extraMM += 0.4 * e.Amount
		v.missShare += 0.15
	case Glinting:
		v.glintShare += e.Amount
	case Blind:
		v.gone = true
	}
}
