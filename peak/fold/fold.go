// Package fold recognises stretch-and-folds in the level of a bowl of dough and
// says which readings show the dough's own rise and which only its shape.
//
//	f := fold.New()
//	height, folded := f.Add(at, heightMM) // height is NaN while the surface is not level
//	f.Folded(at)                          // the baker says so
//
// # What a fold looks like
//
// A hand comes between sensor and dough for half a minute or two, or the bowl is
// lifted off. Afterwards the middle of the surface stands some millimetres higher,
// for the edges were laid over it, and flows back within 20 to 30 minutes (common
// practice; that it does so exponentially is a model). The dough has not grown by
// it; it may have lost a little gas. So the level after a fold says nothing until
// the surface is level again, and the height at the mixing stays what it was.
//
// # How it works
//
// The filter keeps the last minutes of readings and draws them on. Readings far off
// that line, or none, are a hand or a lifted bowl. When readings agree near the line
// again, the first of them are held back until their median tells how far the level
// jumped. A jump up after a hand, or a larger one without, is a fold: dough does not
// jump by itself. Readings that stay far off are no fold; the bowl was emptied or
// another stands there, which is for others to judge.
//
// # Where it fails
//
// A fold by a hand that no reading met, with a dome of less than SuddenMM, passes
// for rise until it has flowed back. A wet spot under the beam that lasts for
// minutes passes for a fold, and its readings are left out for Relaxes.
package fold

import (
	"math"
	"slices"
	"time"
)

const (
	Relaxes   = 25 * time.Minute // from a fold to a level surface (common practice: 20 to 30 minutes)
	SuddenMM  = 2.5              // the least jump that is a fold where no hand was seen: a guess above a ranger's noise of four readings
	touchedMM = 1.5              // the least jump that is one after a hand: a guess
	awayMM    = 12.0             // readings this far off the line are a hand, or no bowl: a guess below any hand's height
	awayMost  = 15 * time.Minute // longer than this no fold takes
	memory    = 12 * time.Minute // of readings, to draw the line from
	settling  = 4                // readings that show the level after a hand
)

// Filter follows one bowl. Its zero value is not ready; New makes one. It is not
// safe for concurrent use and reads no clock.
type Filter struct {
	past   []point   // the line so far, oldest first
	after  []point   // held back: the first readings after a hand, or off the line
	hand   time.Time // since when readings are far off or missing; zero while they are not
	missed int       // of them, that were missing
	until  time.Time // the surface is level again then
	noise  float64   // of a reading, mm
	step   float64   // the smallest between two readings, mm; 0 where none was seen
	last   float64   // the reading before, mm
	block  []point   // the newest readings on the line
	drawn  float64   // the line as it was at their beginning, drawn on
	wander float64   // how far a block lies off it, mean square: foam and drift as well as noise
}

type point struct {
	at time.Time
	mm float64
}

// New returns a filter that has seen nothing.
func New() *Filter { return &Filter{noise: 1.2, wander: 0.5} }

// Reset forgets all, for a new dough.
func (f *Filter) Reset() {
	*f = Filter{noise: f.noise, step: f.step, wander: f.wander, past: f.past[:0], after: f.after[:0], block: f.block[:0]}
}

// Folded says that the baker has folded.
func (f *Filter) Folded(at time.Time) { f.until = later(f.until, at.Add(Relaxes)) }

// Levels returns when the surface is level again after the last fold; false where
// it is level at now.
func (f *Filter) Levels(now time.Time) (time.Time, bool) { return f.until, now.Before(f.until) }

// Add takes a reading, NaN for one that did not come. It returns the height that
// shows the dough's rise, NaN where none does, and whether a fold was found.
func (f *Filter) Add(at time.Time, mm float64) (heightMM float64, folded bool) {
	if math.IsNaN(mm) {
		f.away(at)
		f.missed++
		return mm, false
	}
	f.seeStep(mm)
	line, known := f.line(at)
	off := math.Abs(mm - line)
	switch {
	case !known:
		f.keep(at, mm)
		return f.through(at, mm), false
	case off > awayMM:
		if f.away(at); at.Sub(f.hand) > awayMost {
			f.past, f.after, f.hand, f.missed = f.past[:0], f.after[:0], time.Time{}, 0
		}
		f.missed += 2
		f.after = f.after[:0]
		return f.through(at, mm), false
	case !f.touched() && off <= max(SuddenMM, 3*f.noise, f.sure()):
		f.hand, f.missed, f.after = time.Time{}, 0, f.after[:0]
		f.learn(at, mm, line)
		f.keep(at, mm)
		return f.through(at, mm), false
	}
	return f.settle(at, mm, line)
}

// settle holds a reading back after a hand, or off the line, until enough of them
// tell the level.
func (f *Filter) settle(at time.Time, mm, line float64) (heightMM float64, folded bool) {
	if n := len(f.after); n > 0 && !f.touched() && (mm > line) != (f.after[n-1].mm > line) {
		f.after = f.after[:0] // to this side and that: noise
	}
	f.after = append(f.after, point{at, mm})
	switch {
	case len(f.after) == 1 && !f.touched():
		return f.through(at, mm), false // one alone is noise
	case len(f.after) < settling || at.Sub(f.after[0].at) < 30*time.Second:
		return math.NaN(), false
	}
	jump, least := median(f.after)-line, max(SuddenMM, 8*math.Sqrt(f.wander), f.sure())
	if f.touched() {
		least = max(touchedMM, 4*math.Sqrt(f.wander), f.sure())
	}
	after := f.after
	f.after, f.hand, f.missed = f.after[:0], time.Time{}, 0
	if math.Abs(jump) >= least { // the line begins over at the new level
		f.past = f.past[:0]
	}
	for _, p := range after {
		f.keep(p.at, p.mm)
	}
	if jump < least {
		return f.through(at, mm), false
	}
	f.Folded(after[0].at)
	return math.NaN(), true
}

// seeStep learns the ranger's step: an echo counts in millimetres.
func (f *Filter) seeStep(mm float64) {
	if gap := math.Abs(mm - f.last); gap > 1e-3 && (f.step == 0 || gap < f.step) && f.last != 0 {
		f.step = gap
	}
	f.last = mm
}

// sure is the jump that is more than the ranger's next step.
func (f *Filter) sure() float64 { return 1.5 * f.step }

// touched reports whether something was between sensor and dough, or the bowl away.
// One reading that did not come is no hand; one far off is.
func (f *Filter) touched() bool { return f.missed >= 2 }

// away notes a reading that is missing or far off.
func (f *Filter) away(at time.Time) {
	if f.hand.IsZero() && len(f.past) > 0 {
		f.hand = at
	}
}

// through passes a reading on while the surface is level.
func (f *Filter) through(at time.Time, mm float64) float64 {
	if at.Before(f.until) {
		return math.NaN()
	}
	return mm
}

// keep remembers a reading of the line. Rangers that read each second are thinned.
func (f *Filter) keep(at time.Time, mm float64) {
	if n := len(f.past); n > 0 && at.Sub(f.past[n-1].at) < 8*time.Second {
		return
	}
	i := 0
	for i < len(f.past) && at.Sub(f.past[i].at) > memory {
		i++
	}
	f.past = append(slices.Delete(f.past, 0, i), point{at, mm})
}

// line draws the kept readings on to a moment; false where they are too few.
func (f *Filter) line(at time.Time) (mm float64, ok bool) {
	n := len(f.past)
	if n < settling {
		return 0, false
	}
	half := n / 2
	older, newer := f.past[:half], f.past[half:]
	a, b := middle(older), middle(newer)
	level, slope := median(newer), 0.0
	if span := b.Sub(a).Hours(); n >= 12 && span > 0.05 {
		slope = min(max((median(newer)-median(older))/span, -fastest), fastest)
	}
	return level + slope*min(at.Sub(b), 5*time.Minute).Hours(), true
}

// fastest is how fast a bowl's level moves by itself, mm an hour: a guess.
const fastest = 40.0

// learn takes in a reading on the line: how far neighbours lie apart, and how far a
// block of them lies off what was drawn on.
func (f *Filter) learn(at time.Time, mm, line float64) {
	if n := len(f.past); n > 0 {
		f.noise += (math.Abs(mm-f.past[n-1].mm)*0.886 - f.noise) / 60 // E|x-y| is 1.128 standard deviations
		f.noise = min(max(f.noise, 0.3), 6)
	}
	if len(f.block) == 0 {
		f.drawn = line
	}
	if f.block = append(f.block, point{at, mm}); len(f.block) < settling {
		return
	}
	d := median(f.block) - f.drawn
	f.wander += (min(d*d, 9*f.wander+0.1) - f.wander) / 30
	f.wander = min(max(f.wander, 0.02), 16)
	f.block = f.block[:0]
}

func median(ps []point) float64 {
	v := make([]float64, len(ps))
	for i, p := range ps {
		v[i] = p.mm
	}
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

func middle(ps []point) time.Time { return ps[0].at.Add(ps[len(ps)-1].at.Sub(ps[0].at) / 2) }

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
