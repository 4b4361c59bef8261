// Package sim is a simulated kitchen: a starter or a dough in its vessel,
// the heat mat below, the room around, and the sensors over them with their
// troubles. It makes recordings whose truth is known, plants for a thermostat
// to steer, and a live kitchen for the demo. All its data is invented.
//
// Nothing in it reads a clock: time is passed in, and every chance comes from
// a seed, so that the same call gives the same answer.
//
// # Recordings
//
// Record simulates what RecordOpts describe and returns a Recording: the Rows
// that a daemon would have written, and the Truth. Package simtest draws
// recordings over the whole range, for tests.
//
//	r := sim.Record(sim.RecordOpts{Seed: 7})
//	for _, row := range r.Rows {
//		// row.At, row.Elapsed, row.DistanceMM (NaN: none), row.TempC, row.Fed, row.Status
//	}
//	f := r.Truth.Feeds[0]
//	// f.Peaked, f.Top, f.Lo, f.Hi, f.RiseMM, f.Ratio, f.Doubled, f.MeanC
//
// The truth is worked out on the noiseless curve Truth.HeightMM, the height of
// the middle of the surface as a perfect sensor over an undisturbed jar would
// see it. What happens to the starter itself (a knock, a stir, a skin that
// clings and slips, a burst bubble, the rim) is part of that curve; what
// happens above or below it (a hand, a lifted jar, foam in the beam, droplets,
// the sensor) is not. Lo to Hi is the unbroken time around the greatest height
// within 2 % of the rise, at least 1 mm, below it. A feed has Peaked when the
// curve left that band on the far side before the feed was over and the rise
// was 5 mm or more. Abrupt marks a top that a knock, a stir, the fridge or the
// rim made: no detector can foresee it.
//
// Every moment in the truth is given by a steady clock, counted from the start
// (TopAfter), and as the recording's own clock showed it (Top). The two differ
// only when a ClockStep is among the events.
//
// A recording of 22 hours at 15 s takes about 6 ms on the machine that this
// was written on (go test -bench Record22).
//
// # The starter
//
// A Starter is a set of ten rate equations: yeast and lactobacilli that grow
// by published rates (HumilisPerHour, CerevisiaePerHour, LactobacillusPerHour)
// after Baranyi's lag; free sugar, and maltose that comes late; carbon dioxide
// that first has to saturate the water and then fills bubbles; a film that
// acid and age weaken; gas that leaks, the faster the more the film is
// stretched; and cracks that spread once it is overstretched. StarterOpts
// names each constant. The rates, the lag's form and the dilution law are
// published; the gas, film and crack equations are an engineering choice, for
// no closed form of rise and collapse is published. With the default
// constants a feed tops within the trade's times at 20 °C for every ratio from
// 1:1:1 to 1:10:10, and 30 °C hastens the growth 1.5 to 1.7 times.
//
// What shapes the curve: Firm rounds (3) or points (16) the top; Brittle lets
// it fall at once; Leak, Release and a low Weaken make a flat top of hours;
// Late, Wait and Linger draw a shoulder before the top; a low Weaken and Age
// make the fall slow; DomeMM and CraterMM bend the middle of the surface;
// Burps make the fall jerky; Dead does not rise. Dough is a bread dough.
//
// # The heat plant
//
// A Plant is a mat, six layers of whatever lies on it, the glass and two
// layers of contents, with a probe at the vessel, at the mat and in the room.
//
//	p := sim.NewPlant(sim.PlantOpts{MatW: 25, ContentsKg: 0.8})
//	p.Step(10*time.Second, true)   // ten seconds with the mat on
//	p.ProbeC(sensor.AtVessel)      // what a perfect probe shows, with its lag
//	p.VesselC()                    // what is true at the probe's place
//
// Between steps the inputs are constant and the solution is exact (a matrix
// exponential), so steps may be of any length. Stored, HeatIn, HeatLost and
// HeatMoved account for every joule. SetMat welds the switch, unplugs the mat
// or halves its power, SetProbeOut lets the probe fall out, TakeAway puts the
// vessel into a fridge, Refill is a feed.
//
// To run several thermostats on the same plant, build it again each time with
// NewPlant(p.Opts()) and use equal steps: room and doors are then the same.
// Reach says which setpoints a plant can hold at any hour, DeadTime how slow
// it is.
//
// # The live kitchen
//
// New gives a Kitchen that follows any clock; DemoOpts are those of the demo.
//
//	k, err := sim.New(time.Now, sim.DemoOpts(1))
//	ranger, err := k.Ranger(sim.Bramble)                    // a sensor.Source
//	probe, err := k.Probe(sim.Bramble, sensor.AtVessel)     // another
//	mat, err := k.Mat(sim.Bramble)                          // On(ctx, lease), Off(ctx), Set(on)
//	for _, p := range k.Presses() { /* the baker said: fed */ }
//
// The kitchen catches up with its clock whenever it is asked anything. A lease
// of the mat runs out in the kitchen's time. State says what is true.
//
// # What it is not
//
// The equations have not been fitted to recordings of real jars; those are
// needed before any figure that is reached here can be promised for a
// kitchen. There is one mat a vessel, the vessels do not warm each other, the
// starter's own heat is left out, and a mat that is on without a thermostat
// heats the contents beyond what yeast survives, as it would.
package sim
