package sim

import "time"

// The invented demo kitchen: two jars and a bowl.
const (
	Bramble = "Bramble" // a jar on the mat
	Pilot   = "Pilot"   // a jar at the temperature of the room
	Bowl    = "Bowl"    // a bowl of dough
)

// DemoSpeed is how much faster than the world the demo runs by default: ten
// hours pass in a minute.
const DemoSpeed = 600

// DemoOpts is the demo kitchen and its story. In the first ten hours, a
// minute at the default speed, Bramble is fed at 0:30 and rises on its mat to
// a top after about six hours; on the way the jar is lifted and put back
// 3 mm off (2:45), and its probe comes unplugged for forty minutes (3:30), so
// that the mat has to go off by itself. Pilot, fed four hours before, tops at
// about 2:30 and is fed again at 14:00 without a press. The bowl is
// mixed at 1:00 and reaches its target in the seventh hour. The story begins
// again every twelve hours (Bramble) and every day (the others).
func DemoOpts(seed uint64) Opts {
	at := func(h, m int) time.Duration {
		return demoBefore + time.Duration(h)*time.Hour + time.Duration(m)*time.Minute
	}
	return Opts{
		Seed:   seed,
		Room:   RoomOpts{MeanC: 21, SwingC: 0.8, WanderC: 0.15, DoorC: 2, DoorsADay: 5},
		Before: demoBefore,
		Vessels: []VesselOpts{
			{
				Name: Bramble, Vessel: Vessel{BottomMM: 86, TopMM: 92, RimMM: 165},
				Starter: StarterOpts{Firm: 4, DomeMM: 2, CraterMM: 4, Late: 0.35, Hold: 2.4, Wander: 0.03},
				Plant:   PlantOpts{MatW: 18},
				// Its round is as long as the kitchen has run unseen, so what
				// happened before the visitor came is the same again.
				Feeds: []Feed{{At: at(-12, 30), Ratio: Ratio{1, 3, 3}, FillML: 210, Away: 4 * time.Minute, OffMM: 1}},
				Events: []Event{
					{Kind: Lifted, At: at(-12, 165), For: 2 * time.Minute, Amount: 3},
					{Kind: ProbeGone, At: at(-12, 210), For: 40 * time.Minute},
					{Kind: Hand, At: at(-12, 490), For: time.Minute},
				},
				Cycle: demoBefore,
			},
			{
				Name: Pilot, Vessel: Vessel{BottomMM: 78, RimMM: 150},
				Starter: StarterOpts{Firm: 7, Brittle: 3, Hold: 1.9, Wander: 0.04},
				Feeds: []Feed{
					{At: at(-4, 0), Ratio: Ratio{1, 2, 2}, FillML: 180},
					{At: at(14, 0), Ratio: Ratio{1, 2, 2}, Away: 5 * time.Minute, Silent: true},
				},
				Events: []Event{{Kind: Condensing, At: at(5, 0), For: time.Hour, Amount: 2}},
				Cycle:  24 * time.Hour,
			},
			{
				Name: Bowl, Vessel: Vessel{BottomMM: 190, TopMM: 240, RimMM: 150}, Starter: Dough(),
				Feeds: []Feed{{At: at(1, 0), Ratio: BreadDough(), FillML: 1500, WaterC: 25}},
				Cycle: 24 * time.Hour,
			},
		},
	}
}

// demoBefore is how long the demo kitchen has run when the visitor comes in.
const demoBefore = 12 * time.Hour

// DemoHistory records what Bramble did on its mat before the demo kitchen
// opened at the given time: one feed every twelve hours, the last one 11:30
// before, each a little different. It gives the demo a past to show and the
// forecast a habit to learn.
func DemoHistory(seed uint64, opened time.Time, feeds int) *Recording {
	feeds = max(1, feeds)
	v := DemoOpts(seed).Vessels[0]
	rng := NewRand(seed, "demo history")
	o := RecordOpts{
		Name: Bramble, Family: "dome", Case: "demo", Seed: seed, Every: 30 * time.Second, Settled: 2,
		Start: opened.Add(-time.Duration(feeds) * demoBefore), Length: time.Duration(feeds)*demoBefore - 30*time.Second,
		Vessel: v.Vessel, Starter: v.Starter, Ranger: v.Ranger, Plant: v.Plant, SetpointC: 26,
	}
	o.Plant.Room = DemoOpts(seed).Room
	for i := range feeds {
		f := v.Feeds[0]
		f.At += time.Duration(i) * demoBefore
		f.PaceBy, f.HoldBy = 1+0.03*rng.NormFloat64(), 1+0.02*rng.NormFloat64()
		f.OffMM = between(rng, -1, 1)
		o.Feeds = append(o.Feeds, f)
	}
	return Record(o)
}
