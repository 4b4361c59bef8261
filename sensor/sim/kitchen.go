package sim

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"leavend/sensor"
)

// VesselOpts is one vessel of a live kitchen. Zero values stand for the
// defaults of the types they are of.
type VesselOpts struct {
	Name    string
	Vessel  Vessel
	Starter StarterOpts
	Ranger  RangerOpts
	Plant   PlantOpts     // its mat and heat masses; the room is the kitchen's
	Feeds   []Feed        // when the invented baker feeds it, counted from the kitchen's start
	Events  []Event       // what befalls it, counted likewise
	Cycle   time.Duration // feeds and events begin again after this; default never
}

// Opts is a live kitchen.
type Opts struct {
	Seed    uint64
	Room    RoomOpts
	Before  time.Duration // for how long the kitchen has run unseen when it opens
	Vessels []VesselOpts
}

// Kitchen runs along with the clock that it is given: whoever reads a sensor
// first lets it catch up. A clock that runs faster than the world gives a
// kitchen in quick motion; one that steps back stops it until it has caught
// up. It is safe for concurrent use.
type Kitchen struct {
	now   func() time.Time
	start time.Time

	mu      sync.Mutex // guards what follows
	elapsed time.Duration
	vessels map[string]*liveVessel
	names   []string
	open    bool // its unseen past is over
}

// liveVessel is a place with the switch of its mat and its last look.
type liveVessel struct {
	*place
	name    string
	on      bool
	until   time.Duration // the lease of the mat ends; 0 stands for no end
	looked  time.Duration
	presses []Press
}

// Press is the invented baker saying that a vessel was fed.
type Press struct {
	Vessel string
	At     time.Time
}

// longestNap is how much a kitchen makes up for when it was not asked for
// long, as after a laptop was shut; the rest of the time it stood still.
const longestNap = 48 * time.Hour

// tickEvery is the step of a live kitchen.
const tickEvery = 5 * time.Second

// New returns a kitchen that opens now. It returns an error for a vessel
// without a name or with a name that is taken.
func New(now func() time.Time, o Opts) (*Kitchen, error) {
	k := &Kitchen{now: now, start: now().Add(-o.Before), vessels: map[string]*liveVessel{}}
	if o.Room.StartHour == 0 {
		o.Room.StartHour = float64(k.start.Hour()) + float64(k.start.Minute())/60
	}
	for i, v := range o.Vessels {
		if v.Name == "" || k.vessels[v.Name] != nil {
			return nil, fmt.Errorf("kitchen: vessel %d: the name %q is empty or taken", i+1, v.Name)
		}
		k.names = append(k.names, v.Name)
		live := newLiveVessel(v, o)
		live.tick(0, 0, k.start)
		k.vessels[v.Name] = live
	}
	k.catchUp()
	k.open = true
	if o.Before > 0 {
		for _, v := range k.vessels {
			v.presses = nil // no daemon was there to take them
		}
	}
	return k, nil
}

func newLiveVessel(v VesselOpts, o Opts) *liveVessel {
	feeds := defaultFeeds(v.Feeds)
	plant := v.Plant
	plant.Room, plant.Seed = o.Room, o.Seed // one room for all
	if plant.ContentsKg == 0 {
		plant.ContentsKg = feeds[0].FillML * doughKgPerML
	}
	return &liveVessel{name: v.Name, place: newPlace(placeOpts{
		seed: NewRand(o.Seed, "vessel "+v.Name).Uint64(), vessel: v.Vessel.withDefaults(), starter: v.Starter,
		ranger: v.Ranger, plant: plant, feeds: feeds, events: v.Events, cycle: v.Cycle,
	})}
}

// catchUp lets the kitchen run up to now. The caller holds mu, or is New.
func (k *Kitchen) catchUp() {
	goal := k.now().Sub(k.start)
	if nap := goal - k.elapsed - longestNap; k.open && nap > 0 {
		k.start, goal = k.start.Add(nap), goal-nap
	}
	for k.elapsed+tickEvery <= goal {
		k.elapsed += tickEvery
		for _, name := range k.names {
			k.vessels[name].tick(k.elapsed, tickEvery, k.start)
		}
	}
}

// tick lets since pass up to now, and what is due happen.
func (v *liveVessel) tick(now, since time.Duration, start time.Time) {
	v.pass(since, v.drawing(now))
	v.happen(now)
	v.feedDue(now)
	if v.pressed(now) {
		v.presses = append(v.presses, Press{Vessel: v.name, At: start.Add(now)})
	}
}

// drawing reports whether the switch of the mat lets current through.
func (v *liveVessel) drawing(now time.Duration) bool {
	return v.on && (v.until == 0 || now < v.until)
}

// errNoVessel is for a name that the kitchen does not know.
var errNoVessel = errors.New("no such vessel")

// do runs f on the named vessel once the kitchen has caught up.
func (k *Kitchen) do(name string, f func(v *liveVessel)) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	v := k.vessels[name]
	if v == nil {
		return fmt.Errorf("kitchen: %q: %w", name, errNoVessel)
	}
	k.catchUp()
	f(v)
	return nil
}

// Names returns the vessels in the order they were given.
func (k *Kitchen) Names() []string { return append([]string(nil), k.names...) }

// Vessel returns the named vessel's measures, of which SensorMM is the
// distance that a calibration of the empty vessel would find.
func (k *Kitchen) Vessel(name string) (v Vessel, err error) {
	err = k.do(name, func(l *liveVessel) { v = l.vessel })
	return v, err
}

// Presses returns what the baker has said since the last call, in order of
// vessels. The demo passes it on as if someone had pressed "fed".
func (k *Kitchen) Presses() []Press {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.catchUp()
	var all []Press
	for _, name := range k.names {
		v := k.vessels[name]
		all = append(all, v.presses...)
		v.presses = nil
	}
	return all
}

// State is the truth about one vessel of a live kitchen.
type State struct {
	HeightMM float64 // of the surface above the vessel's bottom
	Swelling float64 // volume against that of the dough without gas
	VesselC  float64
	MatC     float64
	RoomC    float64
	PowerW   float64 // that the mat draws
	Going    []Event // what is going on, such as a fault
}

// State returns the truth about the named vessel.
func (k *Kitchen) State(name string) (s State, err error) {
	err = k.do(name, func(v *liveVessel) {
		s = State{
			HeightMM: v.heightMM, Swelling: v.starter.Swelling(), VesselC: v.plant.VesselC(),
			MatC: v.plant.MatC(), RoomC: v.plant.RoomC(), PowerW: v.plant.PowerW(),
			Going: append([]Event(nil), v.place.on...),
		}
	})
	return s, err
}

// readable is checked by the compiler: both sources are what a poller reads.
var _ = []sensor.Source{(*rangerSource)(nil), (*probeSource)(nil)}
