// Package kitchen is a simulated kitchen: a starter or a dough in its jar, the
// heat mat below, the room around, and the sensors over them with their
// troubles. It makes recordings whose truth is known, plants for a thermostat
// to steer, and a live kitchen for the demo. All its data is invented.
//
// Nothing here reads a clock, and every chance comes from a seed: the same
// call gives the same answer.
//
//	r := kitchen.RandomRecording(7)      // a recording over the whole range
//	r.Rows                               // what a daemon would have written down
//	r.Truth.Feeds[0].Top                 // when the starter stood at its top
//
//	r = kitchen.Record(kitchen.RecordOpts{Seed: 1, Starter: kitchen.StarterOpts{Brittle: 8}})
//
//	p := kitchen.NewPlant(kitchen.PlantOpts{MatW: 25, ContentsKg: 0.8})
//	p.Step(10*time.Second, true)         // ten seconds with the mat on
//	p.ProbeC(sensor.AtVessel)            // what a perfect probe would show
package kitchen
