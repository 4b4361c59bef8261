package control_test

import (
	"math"
	"math/rand/v2"
	"time"
)

// lumped is a heat plant of one, two or three nodes, written for these tests
// and sharing nothing with the simulated kitchen: mat, outer contents with
// glass, and core. Heat leaves the mat after a dead time. Invented data, drawn
// over the sizes that kitchens have; heat masses by handbook values for flour
// and water (about 2.9 kJ/kg K mixed 1:1, from memory) and losses by a film
// coefficient of about 10 W/m² K (common practice for still air).
type lumped struct {
	nodes int
	w     float64       // the mat's power
	kg    float64       // contents
	dead  time.Duration // from the wire to the outside of the vessel
	cMat  float64       // heat masses, J/K
	cOut  float64
	cCore float64
	gMat  float64 // conductances, W/K: mat to air, mat to vessel, vessel to air, outer to core
	gIn   float64
	gOut  float64
	gCore float64
	lag   float64 // of the probe, s

	room  air
	probe string // where the probe lies: "" in the vessel, "air", "mat", "towel", "room swap"

	tMat, tOut, tCore, tProbe, tRoomProbe, tTowel float64

	at    time.Duration
	queue []float64 // heat on its way, W, one entry a step
	next  int
	sunW  float64 // on the vessel now
	draft float64 // factor on the vessel's loss now
	noise *rand.Rand
}

// lumpStep is the step of the integration, and of the bench.
const lumpStep = 10 * time.Second

// air is a room's temperature over time.
type air struct {
	mean, swing, night float64 // °C: the mean, half the daily swing, how far it falls overnight
	startHour          float64
	breath             float64 // °C rms of a wander
	breathMin          float64 // its correlation time
	beat               float64 // amplitude of a radiator's rhythm, °C
	beatMin            float64 // its period
	doorsADay, doorC   float64
	extra              func(at time.Duration) float64 // what a script adds, °C

	wander, door float64
	r            *rand.Rand
}

// step moves the room on and returns its temperature.
func (a *air) step(at time.Duration) float64 {
	dt := lumpStep.Minutes()
	if a.breath > 0 {
		k := math.Exp(-dt / a.breathMin)
		a.wander = a.wander*k + a.breath*math.Sqrt(1-k*k)*a.r.NormFloat64()
	}
	if a.r.Float64() < a.doorsADay*dt/1440 {
		a.door -= a.doorC * (0.3 + 0.7*a.r.Float64())
	}
	a.door *= math.Exp(-dt / 12)
	h := a.startHour + at.Hours()
	c := a.mean + a.swing*math.Cos((h-16)/24*2*math.Pi) + a.wander + a.door
	if a.night > 0 {
		// The heating is off from 22 to 6 o'clock, with a time constant of two hours.
		in := math.Mod(h+2, 24)
		if in < 8 {
			c -= a.night * (1 - math.Exp(-in/2))
		} else {
			c -= a.night * (1 - math.Exp(-4)) * math.Exp(-(in-8)/1)
		}
	}
	if a.beat > 0 {
		// A radiator that is switched: a triangle.
		p := math.Mod(at.Minutes()/a.beatMin, 1)
		c += a.beat * (4*math.Abs(p-0.5) - 1)
	}
	if a.extra != nil {
		c += a.extra(at)
	}
	return c
}

// draw is where a bench gets its numbers from.
type draw struct{ *rand.Rand }

func newDraw(seed, stream uint64) draw { return draw{rand.New(rand.NewPCG(seed, stream))} }

func (d draw) in(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }
func (d draw) logIn(lo, hi float64) float64 {
	return math.Exp(d.in(math.Log(lo), math.Log(hi)))
}

// reachC is where full power would level off above the room, K.
func (p *lumped) reachC() float64 {
	// The mat's own loss beside the way through the vessel.
	through := p.gIn * p.gOut / (p.gIn + p.gOut)
	mat := p.w / (p.gMat + through)
	if p.nodes == 1 {
		return p.w / p.gOut
	}
	return mat * p.gIn / (p.gIn + p.gOut)
}

// newLumped draws a plant. Its room is calm and level; scripts change that.
func newLumped(d draw, seed uint64) *lumped {
	p := &lumped{
		nodes: 1 + int(seed%3), w: d.in(8, 40), kg: d.logIn(0.25, 3), dead: time.Duration(d.logIn(30, 600)) * time.Second,
		lag: d.in(10, 120), draft: 1, noise: rand.New(rand.NewPCG(seed, 77)),
	}
	size := math.Pow(p.kg, 2.0/3)
	c := 2900*p.kg + 350*size
	p.gMat, p.cMat = p.w/18*d.in(0.8, 1.3), d.in(300, 1200)
	p.gIn = d.in(0.8, 2.2) * size // only what lies under the vessel
	p.gOut = 0.6 * size * d.in(0.7, 1.5)
	share := d.in(0.5, 0.8)
	p.cOut, p.cCore, p.gCore = c, 0, 0
	switch p.nodes {
	case 1:
		// Everything is one lump; what the mat loses by itself is gone beforehand.
		through := p.gIn * p.gOut / (p.gIn + p.gOut)
		p.w *= through / (p.gMat + through) * d.in(1, 1.4)
		p.dead = time.Duration(d.logIn(60, 1200)) * time.Second
	case 3:
		p.cOut, p.cCore, p.gCore = c*share, c*(1-share), 2*p.kg*d.in(0.5, 2)
	}
	p.room = air{mean: d.in(13, 24), startHour: d.in(18, 22), r: rand.New(rand.NewPCG(seed, 78))}
	p.place(p.room.mean)
	p.queue = make([]float64, max(int(p.dead/lumpStep), 1))
	return p
}

// place sets the whole plant to one temperature.
func (p *lumped) place(c float64) {
	p.tMat, p.tOut, p.tCore, p.tProbe, p.tRoomProbe, p.tTowel = c, c, c, c, p.room.mean, c
}

// step lets one step pass.
func (p *lumped) step(on bool) {
	dt := lumpStep.Seconds()
	a := p.room.step(p.at)
	w := 0.0
	if on {
		w = p.w
	}
	w, p.queue[p.next] = p.queue[p.next], w
	p.next = (p.next + 1) % len(p.queue)
	var in float64 // into the vessel, W
	if p.nodes == 1 {
		in = w
		p.tMat = p.tOut + w/3
	} else {
		in = p.gIn * (p.tMat - p.tOut)
		p.tMat += dt / p.cMat * (w - in - p.gMat*(p.tMat-a))
	}
	core := p.gCore * (p.tOut - p.tCore)
	p.tOut += dt / p.cOut * (in + p.sunW - core - p.gOut*p.draft*(p.tOut-a))
	if p.cCore > 0 {
		p.tCore += dt / p.cCore * core
	}
	feels := p.tOut
	switch p.probe {
	case "air", "room swap":
		feels = a
	case "mat":
		feels = p.tMat
	case "towel":
		// Wrapped in cloth beside the vessel: the room, late, and a little of the vessel.
		p.tTowel += dt / 1500 * (a + 0.1*(p.tOut-a) - p.tTowel)
		feels = p.tTowel
	}
	p.tProbe += (1 - math.Exp(-dt/p.lag)) * (feels - p.tProbe)
	other := a
	if p.probe == "room swap" {
		other = p.tOut
	}
	p.tRoomProbe += (1 - math.Exp(-dt/60)) * (other - p.tRoomProbe)
	p.at += lumpStep
}

// reads is the vessel's probe as a DS18B20 at 1/16 °C with a little noise
// would give it.
func (p *lumped) reads() float64 { return quantised(p.tProbe + 0.03*p.noise.NormFloat64()) }

// readsRoom is the room's probe.
func (p *lumped) readsRoom() float64 { return quantised(p.tRoomProbe + 0.03*p.noise.NormFloat64()) }

func quantised(c float64) float64 { return math.Round(c*16) / 16 }

// vesselC is the true temperature of the contents' warmest part.
func (p *lumped) vesselC() float64 { return p.tOut }
