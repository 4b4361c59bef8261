package sim

import (
	"time"

	"leavend/sensor"
)

// PlantOpts is a heat mat with a vessel on it, in a room. The zero value of
// each field stands for the default named beside it. Conductances are in
// watts per kelvin, heat masses in joules per kelvin.
type PlantOpts struct {
	Seed uint64 // decides the room's doors and wander
	Room RoomOpts

	MatW      float64 // what the mat draws when on; default 20
	MatJK     float64 // its own heat mass; default 300
	MatLossWK float64 // from the mat to the room, past the vessel; default MatW/18, so that a bare mat stands about 18 °C above the room

	SlabJK   float64 // heat mass of what lies between mat and glass (board, cloth, tile); default 100
	CoupleWK float64 // from mat to glass through all of that; default 1.5

	GlassJK     float64 // the vessel itself; default 350
	GlassLossWK float64 // from glass and surface to the air; default 0.5 for a kilogram, as the area for others

	ContentsKg float64 // default 0.5
	ContentsJK float64 // heat mass of the contents; default 2900 J/K for a kilogram (flour and water 1:1, from handbook heats of 1.7 and 4.18 kJ/kg K, from memory)
	InnerWK    float64 // from glass to the outer contents; default 4 for a kilogram
	CoreWK     float64 // from the outer contents to their core; default 0.7 for a kilogram

	ProbeDepth float64       // where the vessel's probe sits: 0 outer contents (default), 1 core
	ProbeLag   time.Duration // of the vessel's probe, first order; default 40 s
	MatLag     time.Duration // of the mat's probe; default 15 s
	RoomLag    time.Duration // of the room's probe; default 60 s

	StartC float64 // of everything at the start; default the room's temperature
}

// MatState is the condition of the mat and its switch.
type MatState uint8

// The conditions a mat may be in.
const (
	MatSound     MatState = iota
	MatStuckOn            // the switch is welded: on whatever is asked
	MatUnplugged          // off whatever is asked
	MatHalf               // half power: one of two heating wires is broken
)

// Plant is a running heat plant. Between two steps its inputs are constant
// and the integration is exact, so steps may be of any length. It is not safe
// for concurrent use.
type Plant struct {
	o     PlantOpts
	room  *Room
	build plantBuild
	mat   MatState
	share float64 // of the mat's power; 1 when sound
	x     [plantStates]float64

	dt        time.Duration // for which phi and gamma hold
	phi       [plantStates][plantStates]float64
	gamma     [plantStates][plantInputs]float64
	elapsed   time.Duration
	heatIn    float64
	heatMoved float64 // brought in by refills, J
	powerW    float64
}

// plantBuild is what the plant's equations depend on; when it changes they
// are set up again.
type plantBuild struct {
	kg       float64
	probeOut bool
	away     bool
	awayC    float64
}

// slabLayers is in how many layers heat crawls from the mat to the glass. Six
// give a response that starts flat, as a real board's does.
const slabLayers = 6

// The plant's temperatures. The probes follow without taking heat; the last
// entry counts the heat lost to the air, so that energy can be audited.
const (
	pMat       = 0
	pSlab      = 1
	pGlass     = pSlab + slabLayers
	pOuter     = pGlass + 1
	pCore      = pOuter + 1
	pProbe     = pCore + 1
	pMatProbe  = pProbe + 1
	pRoomProbe = pMatProbe + 1
	pLost      = pRoomProbe + 1

	plantStates = pLost + 1
	plantInputs = 3 // watts, air of the room, air around the vessel
)

// Step lets dt pass with the mat switched on or off.
func (p *Plant) Step(dt time.Duration, on bool) {
	const longest = time.Minute // the room moves within a step too
	parts := max(1, (dt+longest-1)/longest)
	for i := range parts {
		p.step((dt*(i+1))/parts-(dt*i)/parts, on)
	}
}

func (p *Plant) step(dt time.Duration, on bool) {
	if dt <= 0 {
		return
	}
	if dt != p.dt {
		p.prepare(dt)
	}
	before := p.room.C()
	p.room.Step(dt)
	p.powerW = p.power(on)
	air := (before + p.room.C()) / 2
	near := air
	if p.build.away {
		near = p.build.awayC
	}
	u := [plantInputs]float64{p.powerW, air, near}
	var next [plantStates]float64
	for i := range next {
		row, in := &p.phi[i], &p.gamma[i]
		sum := in[0]*u[0] + in[1]*u[1] + in[2]*u[2]
		for j := range row {
			sum += row[j] * p.x[j]
		}
		next[i] = sum
	}
	p.x = next
	p.elapsed += dt
	p.heatIn += p.powerW * dt.Seconds()
}

// power is what the mat draws, given what is asked of its switch.
func (p *Plant) power(on bool) float64 {
	switch p.mat {
	case MatStuckOn:
		on = true
	case MatUnplugged:
		on = false
	}
	if !on {
		return 0
	}
	return p.o.MatW * p.share
}

// VesselC is the true temperature of the contents at the vessel probe's
// place, without the probe's lag. It is what the baker cares for.
func (p *Plant) VesselC() float64 { return p.vesselOf(&p.x) }

func (p *Plant) vesselOf(x *[plantStates]float64) float64 {
	return x[pOuter] + p.o.ProbeDepth*(x[pCore]-x[pOuter])
}

// ContentsC is the mean temperature of the contents.
func (p *Plant) ContentsC() float64 {
	return outerShare*p.x[pOuter] + (1-outerShare)*p.x[pCore]
}

// MatC is the true temperature of the mat.
func (p *Plant) MatC() float64 { return p.x[pMat] }

// RoomC is the true temperature of the room's air.
func (p *Plant) RoomC() float64 { return p.room.C() }

// ProbeC is what a perfect probe at the place shows: the temperature there,
// late by the probe's lag. An unknown place reads the room.
func (p *Plant) ProbeC(place sensor.Place) float64 {
	switch place {
	case sensor.AtVessel:
		return p.x[pProbe]
	case sensor.AtMat:
		return p.x[pMatProbe]
	}
	return p.x[pRoomProbe]
}

// PowerW is what the mat drew in the last step.
func (p *Plant) PowerW() float64 { return p.powerW }

// Elapsed is the time that has passed.
func (p *Plant) Elapsed() time.Duration { return p.elapsed }

// Opts returns the plant's options with their defaults filled in.
func (p *Plant) Opts() PlantOpts { return p.o }

// SetMat changes the condition of the mat.
func (p *Plant) SetMat(m MatState) {
	p.mat, p.share = m, 1
	if m == MatHalf {
		p.share = 0.5
	}
}

// SetProbeOut lets the vessel's probe fall out of the vessel (it then reads
// the room) or puts it back.
func (p *Plant) SetProbeOut(out bool) {
	p.change(func(b *plantBuild) { b.probeOut = out })
}

// TakeAway sets the vessel into other air, such as a fridge at 4 °C, off the
// mat. Its probe goes with it.
func (p *Plant) TakeAway(airC float64) {
	p.change(func(b *plantBuild) { b.away, b.awayC = true, airC })
}

// PutBack sets the vessel on the mat again.
func (p *Plant) PutBack() {
	p.change(func(b *plantBuild) { b.away = false })
}

// Refill replaces the contents by kg kilograms at tempC, as a feed does.
func (p *Plant) Refill(kg, tempC float64) {
	before := p.Stored()
	p.change(func(b *plantBuild) { b.kg = kg })
	p.x[pOuter], p.x[pCore] = tempC, tempC
	p.heatMoved += p.Stored() - before
}

// change alters what the equations depend on.
func (p *Plant) change(f func(*plantBuild)) {
	was := p.build
	f(&p.build)
	if p.build != was {
		p.dt = 0
	}
}
