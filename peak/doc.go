// Package peak reads the curve that a starter draws between two feeds: it finds
// the feed, follows the rise, forecasts the peak and calls it. For dough in a
// bowl it waits for a target rise instead.
//
// # Use
//
// A Detector follows one vessel. It is told of feeds and of readings, each
// with its time, and answers with what there is to say:
//
//	d := peak.New(peak.Opts{History: past})
//	d.Fed(at)                            // the baker said so
//	for _, e := range d.Add(at, heightMM, tempC) {
//		// e.Kind: fed, forecast, peak, target, collapse, fault
//	}
//
// It reads no clock and starts nothing; the same readings give the same events,
// and nothing said for a moment depends on readings after it. A reading that did
// not come is NaN. Heights are in mm upwards; without a known floor a distance with
// its sign turned will do, and ratios are then NaN. After a restart, New with the
// history, Fed with the time of the last feed, and then every stored reading since
// make it say what it would have said, in the same minute for a marked feed.
//
// # How it works
//
// Readings become minutes: the mean of those that agree with the minute's
// median (clean.go). What lies far off the curve is refused and counted; if it
// keeps coming it is a hand, a lifted jar or a new level (levelshift.go). A
// minute that leaves the curve all at once is held back for up to ten minutes,
// since dough does not jump and glints do (spike.go).
//
// The noise is estimated on the way (noise.go): white noise from the scatter
// within minutes, the sensor's step from the differences between readings, and
// the wander, which no averaging takes off, by asking under which of six sizes
// two filters would have predicted the minutes best.
//
// A bank of eight Kalman filters for height, speed, acceleration and wander
// (trend.go) follows the minutes, from one that believes in a curve that hardly
// bends to one that may turn within minutes. Each is weighed by how well it
// predicts. This smoothed derivative is the heart of the call. Time counts as
// thermal time (thermal.go): the pace follows the cardinal temperature model of
// S. cerevisiae, and a night in the fridge is nearly none.
//
// One small network calls the peak, another forecasts it; both read the bank, the
// way so far, the temperature and the starter's profile as numbers without units
// (features.go). The call was learnt as optimal stopping: on invented curves the
// chance of calling at each minute makes the average worth of the whole curve, and
// the weights climb that worth. Under a sensor that wanders the score is averaged
// over a minute or two (call.go). The forecast states quantiles of what is left of
// the way. Its interval (interval.go) is widened by factors for each stage of the
// way, chosen on kinds of curves that were not learnt from, and more where it has
// moved back or past feeds do not fit. train_test.go makes it all, for weights.f32.
//
// Past feeds of the same starter (history.go, profile.go) sharpen both, and
// give a forecast at the very feed. A feed that was not marked is found by how
// long the jar was away, how far the level came back lower, whether the
// temperature jumped, and whether the last feed had done its work
// (findfeed.go); or afterwards, when a collapsed jar that was away rises again.
//
// # How late, how sure
//
// RESULTS.md has the figures, the bounds and the commands that make them. A round
// peak is called within a quarter of an hour, a sharp one when the fall shows in
// the noise; if the sensor wanders by a millimetre, up to an hour to either side.
//
// # What a kitchen does
//
// A jar that is lifted and put back some millimetres off: the level is taken again
// and the speed is kept. Fed without a press: found within ten minutes as a rule.
// Knocked so that it slumps: a fault says so and the curve goes on from there. A
// hand: refused. For an hour without a usable distance a fault is told and the
// stage is "lost"; after twelve hours the feed is no longer known. A jar that
// reaches the sensor's near limit is called there. Stirred down under the sensor:
// a slump, and no second call; where the jar was away for it, a feed, since the
// sensor cannot know whether flour came with the spoon. In the fridge: no call and
// no forecast until it has been warm for three quarters of an hour. A dead
// starter: no call. A clock that jumps does not matter to readings with a
// monotonic time; in stored ones a step back is seen after five readings, and a
// step forward is a gap.
//
// # When it fails
//
// Where a curve stands still for hours and then rises again, or rises slowly under
// a sensor that wanders, the call may come before the peak. A peak so sharp that
// the jar leaves it before the fall shows in the noise is called late. Foam that
// wanders under the beam looks like the curve. All of it was tried on invented
// curves with a real sensor's noise; recordings of real jars are needed next. A
// rise says nothing about whether a starter is safe to eat.
package peak
