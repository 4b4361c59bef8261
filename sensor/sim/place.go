package sim

import (
	"time"

	"leavend/sensor"
)

// place is one vessel with all that belongs to it: the mat below, the ranger
// above, the probes, the baker who feeds it and what is going to happen to it.
// Recordings and the live kitchen drive it alike.
type place struct {
	*station
	plant  *Plant
	probes map[sensor.Place]*probe
	opts   StarterOpts
	script script[Event] // what befalls mat, room and probes; the station keeps its own
	feeds  script[Feed]
	on     []Event // going on outside the station
	press  []time.Duration
	away   bool
}

// placeOpts is what a place needs to know.
type placeOpts struct {
	seed      uint64
	vessel    Vessel
	starter   StarterOpts
	ranger    RangerOpts
	plant     PlantOpts
	feeds     []Feed
	events    []Event
	probeOffC float64
	cycle     time.Duration // the script begins again after this; 0 never
}

func newPlace(o placeOpts) *place {
	p := &place{
		station: &station{
			vessel:  o.vessel,
			starter: NewStarter(o.starter, o.seed),
			ranger:  newRanger(o.ranger, o.seed),
			rng:     NewRand(o.seed, "station"),
		},
		plant: NewPlant(o.plant),
		opts:  o.starter.withDefaults(),
		probes: map[sensor.Place]*probe{
			sensor.AtVessel: newProbe(0.03, o.probeOffC, o.seed, "vessel"),
			sensor.AtMat:    newProbe(0.03, 0.2, o.seed, "mat"),
			sensor.AtRoom:   newProbe(0.03, -0.1, o.seed, "room"),
		},
	}
	// Until the first feed, what is left of an old starter lies there.
	p.doughML = o.feeds[0].FillML
	p.heightMM = o.vessel.HeightMM(p.doughML)
	events := append([]Event(nil), o.events...)
	for _, f := range o.feeds {
		if f.Away > 0 && f.At >= f.Away {
			events = append(events, Event{Kind: Lifted, At: f.At - f.Away, For: f.Away, Amount: f.OffMM})
		}
	}
	at := func(e Event) time.Duration { return e.At }
	p.script = newScript(events, at, o.cycle)
	p.station.script = newScript(events, at, o.cycle)
	p.feeds = newScript(o.feeds, func(f Feed) time.Duration { return f.At }, o.cycle)
	return p
}

// pass lets time pass with the mat on or off.
func (p *place) pass(since time.Duration, on bool) {
	if since > 0 {
		p.plant.Step(since, on)
		p.station.advance(since, p.plant.ContentsC())
	}
	p.station.airC = p.plant.RoomC()
}

// happen begins and ends what is due, and returns the events that begin.
func (p *place) happen(now time.Duration) (begun []Event) {
	kept := p.on[:0]
	for _, e := range p.on {
		if now < e.At+e.For {
			kept = append(kept, e)
		} else {
			p.turn(e, false)
		}
	}
	p.on = kept
	for {
		e, at, ok := p.script.next(now)
		if !ok {
			break
		}
		e.At = at
		begun = append(begun, e)
		p.turn(e, true)
		if e.For > 0 {
			p.on = append(p.on, e)
		}
	}
	p.station.happen(now)
	return begun
}

// feedDue feeds when it is time, and reports the feed.
func (p *place) feedDue(now time.Duration) (Feed, bool) {
	f, _, ok := p.feeds.next(now)
	if ok {
		p.feedNow(f, now)
	}
	return f, ok
}

// feedNow feeds.
func (p *place) feedNow(f Feed, now time.Duration) {
	p.starter.o.Pace = p.opts.Pace * f.PaceBy
	p.starter.o.Hold = p.opts.Hold * f.HoldBy
	warm := f.WaterC
	if warm == 0 {
		warm = p.plant.RoomC() + 2
	}
	p.station.feed(f.Ratio, f.FillML, f.OffMM, warm)
	p.plant.Refill(f.FillML*doughKgPerML, warm)
	if !f.Silent {
		p.press = append(p.press, now+f.Late)
	}
}

// pressed reports whether the baker has said "fed" by now, once a feed.
func (p *place) pressed(now time.Duration) bool {
	if len(p.press) == 0 || p.press[0] > now {
		return false
	}
	p.press = p.press[1:]
	return true
}

// turn begins (on) or ends what one event does outside the station.
func (p *place) turn(e Event, on bool) {
	vessel := p.probes[sensor.AtVessel]
	switch e.Kind {
	case ProbeGone:
		vessel.gone = on
	case ProbeStuck:
		vessel.stuck = on
	case ProbeAt85:
		vessel.powerOn = on
	case Chilled:
		if p.away = on; on {
			p.plant.TakeAway(e.Amount)
		} else {
			p.plant.PutBack()
		}
	case ProbeOut:
		p.plant.SetProbeOut(on)
	case DoorOpen:
		if on {
			p.plant.room.OpenDoor(e.Amount)
		}
	case HeatingOff:
		p.plant.room.CutHeating(0)
		if on {
			p.plant.room.CutHeating(e.Amount)
		}
	case MatWelded, MatDead, MatWeak:
		p.plant.SetMat(MatSound)
		switch {
		case on && e.Kind == MatWelded:
			p.plant.SetMat(MatStuckOn)
		case on && e.Kind == MatDead:
			p.plant.SetMat(MatUnplugged)
		case on:
			p.plant.share = clamp(e.Amount, 0, 1)
		}
	}
}

// doing returns the event of the given kind that is going on outside the
// station.
func (p *place) doing(k Kind) (Event, bool) { return going(p.on, k) }

// going returns the event of the given kind among those.
func going(events []Event, k Kind) (Event, bool) {
	for _, e := range events {
		if e.Kind == k {
			return e, true
		}
	}
	return Event{}, false
}

// defaultFeeds fills in what the feeds leave out, each from the one before.
func defaultFeeds(feeds []Feed) []Feed {
	if len(feeds) == 0 {
		feeds = []Feed{{}}
	}
	feeds = append([]Feed(nil), feeds...)
	fill := 220.0
	for i := range feeds {
		f := &feeds[i]
		if f.Ratio == (Ratio{}) {
			f.Ratio = Ratio{1, 2, 2}
		}
		if f.FillML == 0 {
			f.FillML = fill
		}
		fill = f.FillML
		if f.PaceBy == 0 {
			f.PaceBy = 1
		}
		if f.HoldBy == 0 {
			f.HoldBy = 1
		}
	}
	return feeds
}
