package sim

import (
	"fmt"
	"math"
	"time"
)

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

// Range is the coldest and the warmest that the room gets, but for open doors.
func (o RoomOpts) Range() (lowC, highC float64) {
	return o.MeanC - o.SwingC - o.NightC - 2*o.WanderC - 2*o.WeatherC, o.MeanC + o.SwingC + 2*o.WanderC + 2*o.WeatherC
}

// Reach is the range of setpoints that the plant can hold at any hour of its
// room: warm enough that the mat is needed in the warmest hour, and not so
// warm that full power falls short in the coldest. When lowC is above highC
// there is none, and the mat is too weak for the room's swing.
func (p *Plant) Reach() (lowC, highC float64) {
	cold, warm := p.room.o.Range()
	return p.SteadyC(warm, 0), p.SteadyC(cold, 1)
}
