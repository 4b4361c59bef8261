package kitchen

import (
	"math"
	"math/rand/v2"
	"time"
)

// RoomOpts is the air of the kitchen. A zero field means none of that kind,
// except where a default is named.
type RoomOpts struct {
	MeanC     float64 // default 21
	SwingC    float64 // half the difference between the warmest and the coldest hour of the day
	StartHour float64 // hour of the day at the start, 0 to 24
	NightC    float64 // fall that the room heads for while the heating is off, from 23 to 6 o'clock
	DoorC     float64 // fall of the air by an open door, before the walls warm it again
	DoorsADay float64 // how often a door is opened
	WanderC   float64 // wander over hours, one standard deviation
	WeatherC  float64 // wander over days, one standard deviation
}

// Room is the air temperature as time passes, in closed form between draws.
type Room struct {
	o      RoomOpts
	rng    *rand.Rand
	hour   float64 // since the start
	night  float64 // °C below the daytime course
	door   float64 // °C below that, right now
	wander float64
	days   float64 // the weather's part
	opened bool    // a door was opened in the last step
}

// NewRoom returns a room; the seed decides its doors and its wander.
func NewRoom(o RoomOpts, seed uint64) *Room {
	if o.MeanC == 0 {
		o.MeanC = 21
	}
	r := &Room{o: o, rng: newRand(seed, "room")}
	r.wander = o.WanderC * r.rng.NormFloat64()
	r.days = o.WeatherC * r.rng.NormFloat64()
	return r
}

// Step lets dt pass.
func (r *Room) Step(dt time.Duration) {
	h := dt.Hours()
	r.hour += h
	want, tau := 0.0, 1.0 // the heating warms a room faster than the night cools it
	if clock := math.Mod(r.hour+r.o.StartHour, 24); r.o.NightC != 0 && (clock >= 23 || clock < 6) {
		want, tau = r.o.NightC, 3
	}
	r.night = want + (r.night-want)*math.Exp(-h/tau)
	r.door *= math.Exp(-h / (10.0 / 60))
	if r.opened = r.o.DoorsADay > 0 && r.rng.Float64() < r.o.DoorsADay/24*h; r.opened {
		r.door = math.Max(r.door, r.o.DoorC*between(r.rng, 0.4, 1))
	}
	r.wander = r.stray(r.wander, r.o.WanderC, h/2)
	r.days = r.stray(r.days, r.o.WeatherC, h/30)
}

// stray moves an Ornstein–Uhlenbeck process of the given standard deviation
// on by that many of its memories.
func (r *Room) stray(v, sd, memories float64) float64 {
	if sd <= 0 {
		return v
	}
	keep := math.Exp(-memories)
	return keep*v + sd*math.Sqrt(1-keep*keep)*r.rng.NormFloat64()
}

// OpenDoor lets in air that is c degrees colder.
func (r *Room) OpenDoor(c float64) { r.door = math.Max(r.door, c) }

// C is the air temperature now. The day is warmest at 16 o'clock.
func (r *Room) C() float64 {
	day := r.o.SwingC * math.Cos((r.hour+r.o.StartHour-16)/24*2*math.Pi)
	return r.o.MeanC + day - r.night - r.door + r.wander + r.days
}
