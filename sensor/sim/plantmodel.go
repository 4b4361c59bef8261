package sim

import (
	"math"
	"time"
)

// outerShare is the part of the contents that lies near the glass.
const outerShare = 0.6

func (o PlantOpts) withDefaults() PlantOpts {
	def := func(v *float64, d float64) {
		if *v <= 0 {
			*v = d
		}
	}
	def(&o.MatW, 20)
	def(&o.MatJK, 300)
	def(&o.MatLossWK, o.MatW/18)
	def(&o.SlabJK, 100)
	def(&o.CoupleWK, 1.5)
	def(&o.GlassJK, 350)
	def(&o.ContentsKg, 0.5)
	// Areas grow as the mass to the power 2/3, an area over a length as 1/3.
	def(&o.GlassLossWK, 0.5*math.Pow(o.ContentsKg, 2.0/3))
	def(&o.InnerWK, 4*math.Pow(o.ContentsKg, 2.0/3))
	def(&o.CoreWK, 0.7*math.Cbrt(o.ContentsKg))
	def(&o.ContentsJK, 2900*o.ContentsKg)
	lag := func(v *time.Duration, d time.Duration) {
		if *v <= 0 {
			*v = d
		}
	}
	lag(&o.ProbeLag, 40*time.Second)
	lag(&o.MatLag, 15*time.Second)
	lag(&o.RoomLag, time.Minute)
	o.ProbeDepth = clamp(o.ProbeDepth, 0, 1)
	return o
}

// NewPlant returns a plant at rest: everything at StartC, the mat off.
func NewPlant(o PlantOpts) *Plant {
	p := &Plant{room: NewRoom(o.Room, o.Seed), share: 1}
	p.o = o.withDefaults()
	p.build.kg = p.o.ContentsKg
	start := p.o.StartC
	if start == 0 {
		start = p.room.C()
	}
	for i := range pLost {
		p.x[i] = start
	}
	p.x[pRoomProbe] = p.room.C()
	return p
}

// masses are the heat masses of the nodes that store heat.
func (p *Plant) masses() (c [pCore + 1]float64) {
	c[pMat] = p.o.MatJK
	for i := range slabLayers {
		c[pSlab+i] = p.o.SlabJK / slabLayers
	}
	c[pGlass] = p.o.GlassJK
	contents := p.o.ContentsJK * p.build.kg / p.o.ContentsKg
	c[pOuter], c[pCore] = outerShare*contents, (1-outerShare)*contents
	return c
}

// equations returns A and B of x' = A·x + B·u, per second.
func (p *Plant) equations() (a, b matrix) {
	a, b = newMatrix(plantStates, plantStates), newMatrix(plantStates, plantInputs)
	c := p.masses()
	link := func(i, j int, wk float64) {
		*a.at(i, i) -= wk / c[i]
		*a.at(i, j) += wk / c[i]
		*a.at(j, j) -= wk / c[j]
		*a.at(j, i) += wk / c[j]
	}
	air := func(i, input int, wk float64) {
		*a.at(i, i) -= wk / c[i]
		*b.at(i, input) += wk / c[i]
		*a.at(pLost, i) += wk
		*b.at(pLost, input) -= wk
	}
	*b.at(pMat, 0) = 1 / c[pMat]
	air(pMat, 1, p.o.MatLossWK)
	each := p.o.CoupleWK * (slabLayers + 1)
	for i := range slabLayers {
		link(pMat+i, pSlab+i, each)
	}
	if !p.build.away {
		link(pGlass-1, pGlass, each)
	}
	air(pGlass, 2, p.o.GlassLossWK)
	link(pGlass, pOuter, p.o.InnerWK)
	link(pOuter, pCore, p.o.CoreWK)
	p.probes(a, b)
	return a, b
}

// probes lets the three probes follow what they touch.
func (p *Plant) probes(a, b matrix) {
	follow := func(probe int, lag time.Duration) float64 {
		k := 1 / lag.Seconds()
		*a.at(probe, probe) = -k
		return k
	}
	k := follow(pProbe, p.o.ProbeLag)
	if p.build.probeOut {
		*b.at(pProbe, 1) = k
	} else {
		*a.at(pProbe, pOuter) = k * (1 - p.o.ProbeDepth)
		*a.at(pProbe, pCore) = k * p.o.ProbeDepth
	}
	*a.at(pMatProbe, pMat) = follow(pMatProbe, p.o.MatLag)
	*b.at(pRoomProbe, 1) = follow(pRoomProbe, p.o.RoomLag)
}

// prepare computes the exact step over dt: the exponential of A and B side by
// side gives phi and gamma at once.
func (p *Plant) prepare(dt time.Duration) {
	a, b := p.equations()
	const n = plantStates + plantInputs
	both := newMatrix(n, n)
	sec := dt.Seconds()
	for i := range plantStates {
		for j := range plantStates {
			*both.at(i, j) = *a.at(i, j) * sec
		}
		for j := range plantInputs {
			*both.at(i, plantStates+j) = *b.at(i, j) * sec
		}
	}
	e := both.exp()
	for i := range plantStates {
		copy(p.phi[i][:], e.v[i*n:])
		copy(p.gamma[i][:], e.v[i*n+plantStates:])
	}
	p.dt = dt
}
