package sim

import (
	"math"
	"time"
)

// Truth is what was so in a simulated recording, whatever the sensors said.
type Truth struct {
	Family       string // the kind of curve
	Case         string // the kind of trouble
	Seed         uint64
	Start        time.Time
	Feeds        []FeedTruth
	Disturbances []Disturbance // in order of their beginning

	// HeightMM is the noiseless curve: the height of the middle of the surface
	// above the vessel's bottom, once every Every from the start, also while
	// the daemon was off or the jar away. Knocks, stirs, slips and burps are
	// part of it since they happen to the starter; hands, lifts, foam under
	// the beam and droplets are not.
	HeightMM []float64
	Every    time.Duration
}

// Disturbance is an event with the times as the recording's clock gave them.
type Disturbance struct {
	Event
	From, To time.Time
}

// FeedTruth is what was so from one feed to the next, or to the end. Each
// moment is given twice: after the start by a steady clock (…After) and as the
// recording's own clock showed it.
type FeedTruth struct {
	Fed      time.Time
	FedAfter time.Duration
	Marked   bool // the baker said so

	StartMM float64 // height right after the feed
	RiseMM  float64 // height of the top less StartMM
	Ratio   float64 // height of the top over StartMM
	FellMM  float64 // greatest fall below the top afterwards
	DipMM   float64 // greatest fall on the way up, before a higher height was reached

	// Peaked is whether a top was seen: it rose by 5 mm or more, and fell out
	// of the band below the top before the feed was over.
	Peaked            bool
	Top, Lo, Hi       time.Time // Lo to Hi: without a break within 2 % of the rise (at least 1 mm) below the top
	TopAfter, LoAfter time.Duration
	HiAfter           time.Duration

	Doubled      time.Time // first at twice StartMM; zero if never
	DoubledAfter time.Duration

	MeanC  float64 // mean temperature of the contents from the feed to the top
	Abrupt bool    // a knock, a stir, the fridge or the rim made this top and not the starter itself: no detector can foresee it
}

// Band is how far below the top still counts as on top.
func (f *FeedTruth) Band() float64 { return math.Max(1, 0.02*f.RiseMM) }

// leastRise is the rise below which nothing can be called a top.
const leastRise = 5

// judge fills in the truth of the feed from the curve up to tick end.
func (f *FeedTruth) judge(height, temps []float64, end int, every time.Duration, stamp func(time.Duration) time.Time) {
	first := int(f.FedAfter / every)
	top := highest(height, first, end)
	f.StartMM = height[first]
	f.RiseMM = height[top] - f.StartMM
	f.Ratio = height[top] / f.StartMM
	lo, hi := top, top
	for lo > first && height[lo-1] >= height[top]-f.Band() {
		lo--
	}
	for hi < end-1 && height[hi+1] >= height[top]-f.Band() {
		hi++
	}
	high := height[first]
	for i := first; i <= top; i++ {
		high = math.Max(high, height[i])
		f.DipMM = math.Max(f.DipMM, high-height[i])
	}
	for i := top; i < end; i++ {
		f.FellMM = math.Max(f.FellMM, height[top]-height[i])
	}
	f.Peaked = f.RiseMM >= leastRise && hi < end-1
	after := func(i int) time.Duration { return time.Duration(i) * every }
	f.TopAfter, f.LoAfter, f.HiAfter = after(top), after(lo), after(hi)
	f.Fed, f.Top, f.Lo, f.Hi = stamp(f.FedAfter), stamp(f.TopAfter), stamp(f.LoAfter), stamp(f.HiAfter)
	for i := first; i < end; i++ {
		if height[i] >= 2*f.StartMM {
			f.DoubledAfter, f.Doubled = after(i), stamp(after(i))
			break
		}
	}
	sum := 0.0
	for i := first; i <= top; i++ {
		sum += temps[i]
	}
	f.MeanC = sum / float64(top-first+1)
}

// highest is the tick of the greatest height from first up to end. Where the
// surface clings to the glass, equal heights make a table: its middle counts.
func highest(height []float64, first, end int) int {
	top := first
	for i := first; i < end; i++ {
		if height[i] > height[top] {
			top = i
		}
	}
	last := top
	for last+1 < end && height[last+1] == height[top] {
		last++
	}
	return (top + last) / 2
}

// abrupt reports whether something from outside ended the rise of the feed.
func (t *Truth) abrupt(f *FeedTruth) bool {
	for _, d := range t.Disturbances {
		switch d.Kind {
		case Knocked, Stirred, Chilled, Overflowing:
			if gap := d.At - f.TopAfter; gap > -2*t.Every && gap < 3*time.Minute {
				return true
			}
		}
	}
	return false
}
