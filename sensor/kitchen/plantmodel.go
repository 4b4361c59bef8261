package kitchen

import (
	"fmt"
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

// SteadyC is where the vessel would settle in a room that stays at roomC with
// the mat drawing the given share of its power, 0 to 1: the plant's reach.
func (p *Plant) SteadyC(roomC, share float64) float64 {
	x, ok := p.steady(roomC, share)
	if !ok {
		return math.NaN()
	}
	return p.vesselOf(&x)
}

func (p *Plant) steady(roomC, share float64) (x [plantStates]float64, ok bool) {
	a, b := p.equations()
	small := newMatrix(pLost, pLost)
	rhs := make([]float64, pLost)
	for i := range pLost {
		for j := range pLost {
			*small.at(i, j) = *a.at(i, j)
		}
		rhs[i] = -(*b.at(i, 0)*p.o.MatW*share + (*b.at(i, 1)+*b.at(i, 2))*roomC)
	}
	v, ok := small.solve(rhs)
	copy(x[:], v)
	return x, ok
}

// DeadTime and TimeConstant describe the vessel's answer to the mat as a
// dead time and one lag, by the two-point method (times of 28.3 and 63.2 % of
// the final rise). ok is false when the answer is too slow to tell.
func (p *Plant) DeadTime() (dead, lag time.Duration, ok bool) {
	still := &Plant{o: p.o, build: p.build, share: 1, room: NewRoom(RoomOpts{MeanC: 20}, 0)}
	for i := range pLost {
		still.x[i] = 20
	}
	goal := still.SteadyC(20, 1) - 20
	const dt = 20 * time.Second
	crossed := func(share, before, now float64) time.Duration {
		return still.elapsed - time.Duration((now-share)/(now-before)*float64(dt))
	}
	var t28 time.Duration
	for before := 0.0; still.elapsed < 48*time.Hour; {
		still.step(dt, true)
		now := (still.VesselC() - 20) / goal
		if now >= 0.283 && t28 == 0 {
			t28 = crossed(0.283, before, now)
		}
		if now >= 0.632 {
			t63 := crossed(0.632, before, now)
			lag = 3 * (t63 - t28) / 2
			return max(0, t63-lag), lag, true
		}
		before = now
	}
	return 0, 0, false
}

// Stored is the heat in mat, slab, glass and contents against 0 °C, in joules.
func (p *Plant) Stored() float64 {
	sum := 0.0
	for i, c := range p.masses() {
		sum += c * p.x[i]
	}
	return sum
}

// HeatIn, HeatLost and HeatMoved are the joules that came from the mat, went
// to the air and came with refills since the start.
func (p *Plant) HeatIn() float64 { return p.heatIn }

// HeatLost is the heat that went to the air, in joules.
func (p *Plant) HeatLost() float64 { return p.x[pLost] }

// HeatMoved is the heat that refills brought in or took along, in joules.
func (p *Plant) HeatMoved() float64 { return p.heatMoved }

// String says in one line what matters about the plant to whoever steers it.
func (p *Plant) String() string {
	dead, lag, _ := p.DeadTime()
	low, high := p.Reach()
	return fmt.Sprintf("%.0f W mat, %.2f kg, dead time %s, lag %s, probe lag %s, reach %.1f to %.1f °C",
		p.o.MatW, p.build.kg, dead.Round(time.Second), lag.Round(time.Minute), p.o.ProbeLag, low, high)
}
