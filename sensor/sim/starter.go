package sim

import (
	"math"
	"time"
)

// The state of a starter, as one vector for the integrator. Concentrations
// are shares of what a ripe starter holds.
const (
	sYeast     = iota // living yeast
	sLacto            // living lactobacilli
	sSugar            // free sugar
	sMaltose          // sugar that comes late
	sReady            // how far the yeast has turned to maltose, 0..1
	sAcid             // acid
	sFilm             // strength of the dough film, 1 fresh
	sDissolved        // carbon dioxide in solution, volumes
	sGas              // gas in bubbles, volumes at 20 °C
	sCrack            // spread of cracks, 0..1
	stateLen
)

type state [stateLen]float64

// Starter is a living dough. It knows no clock and no jar: Step drives it,
// and Swelling says how large it has become. It is not safe for concurrent use.
type Starter struct {
	o         StarterOpts
	x         state
	lag       float64 // Baranyi's q; α = q/(1+q)
	hydration float64
	warm      warmth
	dome      float64 // mm, middle against mean level
	wander    float64 // relative change of pace, an Ornstein–Uhlenbeck process
	tempC     float64
	fluid     float64 // how readily gas escapes at this warmth, 1 at 20 °C
	age       float64 // hours since the feed
	rnd       func() float64
	draw      func() float64
}

// saturation is how much carbon dioxide dough water dissolves before bubbles
// grow, in volumes at 20 °C (0.88 in pure water, handbook value from memory).
const saturation = 0.25

// NewStarter returns a ripe starter of the given character, ready to be fed.
// The seed decides its burps and the wander of its pace.
func NewStarter(o StarterOpts, seed uint64) *Starter {
	s := &Starter{o: o.withDefaults(), hydration: 1}
	rng := NewRand(seed, "starter")
	s.rnd, s.draw = rng.Float64, rng.NormFloat64
	s.warm.yeast = o.Yeast
	s.x = state{sYeast: s.o.Vitality, sLacto: s.o.Vitality, sAcid: 1, sFilm: 0.2}
	s.tempC = 20
	return s
}

// Feed discards and feeds: the culture is diluted to the ratio's inoculation,
// sugar and film are new, and the gas is stirred out. What the feed cannot
// renew, the culture's own condition, carries over: an underfed starter stays
// weak for a feed.
func (s *Starter) Feed(r Ratio) {
	in := r.Inoculation()
	s.hydration = r.Hydration(s.hydration)
	fresh := 1 - in
	old := s.x
	s.x = state{
		sYeast:     in * old[sYeast],
		sLacto:     in * old[sLacto],
		sSugar:     fresh*(1-s.o.Late) + in*old[sSugar],
		sMaltose:   fresh*s.o.Late + in*old[sMaltose],
		sAcid:      in * old[sAcid],
		sFilm:      1 - 0.3*in,
		sDissolved: in * old[sDissolved],
		sGas:       s.o.Air,
	}
	s.lag = 1 / math.Expm1(math.Max(s.o.Lag, 1e-6))
	s.dome, s.age = 0, 0
}

// Stir beats most of the gas out without feeding: the film is folded again and
// what sugar is left drives a second rise.
func (s *Starter) Stir() {
	s.x[sGas] *= 0.12
	s.x[sCrack] = 0
	s.x[sFilm] = math.Min(1, s.x[sFilm]+0.25)
	s.dome = 0
}

// Knock slumps it: the given share of the gas goes within the moment.
func (s *Starter) Knock(share float64) {
	s.x[sGas] *= 1 - clamp(share, 0, 1)
	s.dome *= 1 - clamp(share, 0, 1)
}

// maxStep bounds the integrator: the quickest process, a burst film, takes
// minutes.
const maxStep = 30 * time.Second

// Step lets dt pass at the given temperature. Time may be cut in any way; the
// result differs by less than the sensor's step.
func (s *Starter) Step(dt time.Duration, tempC float64) {
	for dt > 0 {
		h := min(dt, maxStep)
		s.step(h.Hours(), tempC)
		dt -= h
	}
}

// step is one step of Heun's method over h hours.
func (s *Starter) step(h, tempC float64) {
	s.tempC, s.age = tempC, s.age+h
	s.drift(h)
	yeast, lacto, fluid := s.warm.at(tempC)
	s.fluid = fluid
	pace := s.o.Pace * (1 + s.wander)
	yeast, lacto = yeast*pace, lacto*pace
	alpha := s.lag / (1 + s.lag)
	k1 := s.slope(&s.x, yeast, lacto, alpha)
	var mid state
	for i := range mid {
		mid[i] = s.x[i] + h*k1[i]
	}
	k2 := s.slope(&mid, yeast, lacto, alpha)
	for i := range s.x {
		s.x[i] = math.Max(0, s.x[i]+h/2*(k1[i]+k2[i]))
	}
	s.lag *= math.Exp(yeast * h)
	if s.lag > 1e6 {
		s.lag = 1e6 // awake; keep it finite over years
	}
	s.skin(h, (k1[sGas]+k2[sGas])/2)
}

// slope is the rate of change of each part of the state, per hour.
func (s *Starter) slope(x *state, yeast, lacto, alpha float64) (d state) {
	o := &s.o
	free := x[sSugar] / (o.Hunger + x[sSugar])
	// Maltose waits until free sugar is scarce and the yeast has turned to it.
	scarce := o.Hunger / (o.Hunger + x[sSugar])
	late := x[sMaltose] / (o.Hunger + x[sMaltose]) * scarce * x[sReady] / o.Linger
	eaten := yeast * alpha * x[sYeast]
	d[sYeast] = 0.8 * eaten * (free + late)
	d[sSugar] = -eaten * free
	d[sMaltose] = -eaten * late
	enzymes := (yeast + lacto) / 0.46 // both near 0.23 per hour at 20 °C
	if s.age < 36 {
		d[sMaltose] += o.Release * enzymes
	}
	d[sReady] = scarce * (1 - x[sReady]) * enzymes / o.Wait
	d[sLacto] = lacto * alpha * x[sLacto] * (1 - x[sLacto])
	d[sAcid] = lacto * x[sLacto] * 0.6 * math.Max(0, 1.6-x[sAcid])
	d[sFilm] = -x[sFilm] * (o.Weaken*x[sAcid]*x[sAcid] + o.Age) * math.Sqrt(enzymes)

	made := o.Gas * eaten * (free + late)
	// Bubbles grow the faster, the further the water is over its saturation;
	// a few do so before.
	over := x[sDissolved] / saturation
	bubbling := 3 * x[sDissolved] * over * over
	d[sDissolved] = made - bubbling
	full := o.Hold * s.thickness()
	foam := o.Foam * full // small bubbles that no crack reaches
	loose := math.Max(0, x[sGas]-foam)
	lost := o.Leak * (x[sGas] + 3*(1-x[sFilm])*loose)
	hold := foam + (full-foam)*x[sFilm]
	stretch := math.Min(2, x[sGas]/hold)
	lost += 0.35 * loose * math.Pow(stretch, o.Firm)
	if stretch > 1 {
		d[sCrack] = o.Brittle * (x[sCrack] + 0.02) * (1 - x[sCrack])
	}
	lost += 2.5 * x[sCrack] * loose
	d[sGas] = bubbling - lost*s.fluid
	return d
}

// thickness is how hydration bears on the film: a stiff dough holds more, a
// wet one less (common practice; the slope is a guess).
func (s *Starter) thickness() float64 { return clamp(1.35-0.35*s.hydration, 0.5, 1.3) }

// drift moves the wander of the pace and draws burps.
func (s *Starter) drift(h float64) {
	if s.o.Wander > 0 {
		const back = 0.5 // per hour: the wander forgets itself within two hours
		s.wander += -back*s.wander*h + s.o.Wander*math.Sqrt(2*back*h)*s.draw()
		s.wander = clamp(s.wander, -0.6, 0.6)
	}
	if s.o.Burps > 0 && s.x[sFilm] < 0.75 && s.rnd() < s.o.Burps*h {
		s.x[sGas] *= 1 - 0.002 - 0.01*s.rnd()
	}
}

// skin follows the shape of the surface: a dome while gas comes, a crater
// while it goes, both within half an hour.
func (s *Starter) skin(h, gasRate float64) {
	t := math.Tanh(3 * gasRate)
	want := t * s.o.DomeMM
	if t < 0 {
		want = t * s.o.CraterMM
	}
	s.dome += (want - s.dome) * -math.Expm1(-h/0.5)
}

// Swelling is the volume against that of the same dough without gas: 1 at the
// feed, 2 when the volume has doubled. Bubbles swell with warmth as any gas.
func (s *Starter) Swelling() float64 { return 1 + s.x[sGas]*(s.tempC+273.15)/293.15 }

// DomeMM is how far the middle of the surface stands above the mean level;
// below zero it is a crater.
func (s *Starter) DomeMM() float64 { return s.dome }
