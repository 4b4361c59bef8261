// Package peak reads the curve a starter draws between two feeds: it finds
// the feed, follows the rise, forecasts the top and calls it. For dough in a
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
// It reads no clock and starts nothing; the same readings give the same
// events, and nothing said for a moment depends on readings after it. A
// reading that did not come is NaN. Heights are in mm upwards; without a known
// floor a distance with its sign turned will do, and ratios are then NaN.
//
// After a restart the detector is made again: New with the history, Fed with
// the time of the last feed, then every stored reading since. It then says
// what it would have said, in the same minute for a marked feed.
//
// # How it works
//
// Readings become minutes (clean.go): the mean of those that agree with the
// minute's median. What lies far off the curve is refused and counted; if it
// keeps coming it is a hand, a lifted jar or a new level (absence.go). A minute
// that leaves the curve all at once is held back for up to a quarter of an
// hour, for dough does not jump but glints do (glint.go). The noise of a
// reading and of neighbouring minutes is estimated on the way, not assumed.
//
// A bank of eight Kalman filters for height, speed and acceleration (trend.go)
// follows the minutes, from one that believes in a curve that hardly bends to
// one that may turn within minutes; each is weighed by how well it predicts.
// Beside it a change of speed within the last half hour is looked for
// (kink.go), which shows a sharp top within minutes.
//
// Time counts in warm hours (warmth.go): an hour at 25 °C is one, and the pace
// follows the cardinal temperature model with the values of S. cerevisiae.
//
// What can be told of the curve becomes 113 numbers without units: 46 signs
// (signs.go), the minutes of the last three hours in units of the tolerance
// that counts as on top (recent.go), the shape of the whole way, and what the
// curve did before that looked like a top and was none (pauses.go, view.go);
// and, where past feeds are on record, when they expect the top and how well
// the curve follows them.
//
// A jury of two small networks (jury.go) looks at them once a minute and says
// how far calling now is better than going on; the first clear yes is the call.
// It is learnt as optimal stopping: on invented curves the chance of calling
// at each minute makes the average worth of the whole curve, and the weights
// climb that worth. An early call costs, a late one gains nothing, one for a
// dead starter costs most. The same networks say where the top was. Half of
// what they learnt from came with past feeds, and three in ten of those were of
// another pace and size, so that a starter that is kept otherwise today is not
// called by what it did yesterday. A starter with a past has a jury of its own.
// train_jury_test.go makes them again. The forecast has
// networks of its own (aheadnet.go), three that are averaged, and a
// fourth for the first forecasts of a starter: they read 65 numbers about the
// whole way so far (prospect.go) and give the 10, 50 and 90 % quantiles of what
// is left of it. All learnt from many families of
// invented curves (families_test.go, outlook_families_test.go) and of the
// simulated kitchen; outlook_train_test.go makes the weights of the forecast
// again. Minutes past the top that was not yet called are learnt too,
// with nothing left, so that now is always a possible answer; and the last
// stretch counts more than its few minutes, so that the interval holds the top
// at every stage of the way.
//
// Past feeds of the same starter (history.go, habit.go) sharpen call and forecast:
// the mean of their curves in warm time is fitted to the curve so far, with
// its time and its size free within the spread that the starter has shown, and
// with its own response to warmth. What they expect is among the 65 numbers.
//
// Fan draws the curve ahead for whoever asks (fan.go): shapes of whole rises
// are held against the way so far (courses.go) and weighed by the forecast.
// Dough's target has a network of the same build, which reads in place of the
// habit how far the target is.
//
// A feed that nobody marked is found by weighing how long the jar was away,
// how far the level came back lower, whether the temperature jumped, and
// whether the last feed had done its work (feedfind.go); or in hindsight, when
// a collapsed jar that was away rises again.
//
// # How late, how sure
//
// RESULTS.md has the figures, the bounds that no detector can beat without a
// model of the curve, and the commands that make them. In short: the call
// comes within a quarter of an hour of a round top, and some minutes after a
// sharp one, when the fall shows in the noise.
//
// # What a kitchen does
//
// A jar lifted and put back some millimetres off: the level is taken anew, the
// speed is kept, nothing is said. Fed with nobody pressing: found, mostly
// within ten minutes. Knocked so that it slumps, or slipping down the glass: a
// fault says so, the curve goes on from there, and the top is still called.
// A dome, then a crater: the call is for the surface under the beam. Foam that
// wanders: noise that hangs together widens everything. Condensation and
// glints: held back, or counted as noise; for an hour without a usable
// distance a fault is told and the stage is "lost". A hand: refused. A jar
// that reaches the sensor's near limit stands still there, and that is called
// as its top. Stirred down under the sensor: it is a slump and there is no
// second call; where the jar was away for it, it is a feed, for the sensor cannot know whether flour
// came with the spoon. In the fridge: too cold to tell, no call and no
// forecast, until it has been warm again for an hour and a half; the call
// after that may be late by an hour or more. A dead
// starter: no call. The daemon off for an hour: the curve is taken up again;
// after twelve hours the feed is no longer known. A clock that jumps does not
// matter to readings with a monotonic time; in stored ones a step back is seen
// after five readings, and a step forward is a gap.
//
// # When it fails
//
// Where a curve stands still for hours and then rises again, the first
// stand-still is called about one time in four. Foam that wanders delays the
// call by an hour and more, for its noise looks like small turns. A top so sharp that the jar leaves it before the fall
// shows in the noise is called late. Everything here was tried on invented
// recordings only. A rise says nothing about whether a starter is safe to eat.
package peak
