package sim

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
	cut    float64 // fall that the air heads for while the heating is cut
	keep   roomKeep
}

// roomKeep holds what a step of one length leaves of each departure, since
// steps mostly have the same length.
type roomKeep struct {
	dt                                 time.Duration
	night, morning, door, wander, days float64
}

// NewRoom returns a room; the seed decides its doors and its wander.
func NewRoom(o RoomOpts, seed uint64) *Room {
	if o.MeanC == 0 {
		o.MeanC = 21
	}
	r := &Room{o: o, rng: NewRand(seed, "room")}
	r.wander = o.WanderC * r.rng.NormFloat64()
	r.days = o.WeatherC * r.rng.NormFloat64()
	return r
}

// Step lets dt pass.
func (r *Room) Step(dt time.Duration) {
	h := dt.Hours()
	if dt != r.keep.dt {
		// The heating warms a room faster than the night cools it.
		left := func(hours float64) float64 { return math.Exp(-h / hours) }
		r.keep = roomKeep{dt: dt, night: left(3), morning: left(1), door: left(1.0 / 6), wander: left(2), days: left(30)}
	}
	r.hour += h
	want, keep := 0.0, r.keep.morning
	if clock := math.Mod(r.hour+r.o.StartHour, 24); r.o.NightC != 0 && (clock >= 23 || clock < 6) {
		want, keep = r.o.NightC, r.keep.night
	}
	if r.cut > want {
		want, keep = r.cut, r.keep.night
	}
	r.night = want + (r.night-want)*keep
	r.door *= r.keep.door
	if r.o.DoorsADay > 0 && r.rng.Float64() < r.o.DoorsADay/24*h {
		r.door = math.Max(r.door, r.o.DoorC*between(r.rng, 0.4, 1))
	}
	r.wander = r.stray(r.wander, r.o.WanderC, r.keep.wander)
	r.days = r.stray(r.days, r.o.WeatherC, r.keep.days)
}

// stray moves an Ornstein–Uhlenbeck process of the given standard deviation
// on, of which a step leaves the share keep.
func (r *Room) stray(v, sd, keep float64) float64 {
	if sd <= 0 {
		return v
	}
	return keep*v + sd*math.Sqrt(1-keep*keep)*r.rng.NormFloat64()
}

// OpenDoor lets in air that is c degrees colder.
func (r *Room) OpenDoor(c float64) { r.door = math.Max(r.door, c) }

// CutHeating lets the room cool towards c degrees below its day's course; 0
// turns the heating on again.
func (r *Room) CutHeating(c float64) { r.cut = math.Max(0, c) }

// C is the air temperature now. The day is warmest at 16 o'clock.
func (r *Room) C() float64 {
	day := r.o.SwingC * math.Cos((r.hour+r.o.StartHour-16)/24*2*math.Pi)
	return r.o.MeanC + day - r.night - r.door + r.wander + r.days
}
