package dough

import (
	"math"
	"time"

	"leavend/peak"
	"leavend/peak/timetopeak"
)

// Past is a dough that has risen to a target.
type Past struct {
	Recipe Recipe
	At     time.Time         // when it was mixed
	Course timetopeak.Course // the warmth it had
	Rise   float64           // the rise ratio that it came to
	After  time.Duration     // and when, after the mixing
}

// The spreads, as standard deviations of the logarithm of the time.
const (
	practiceSD = 0.28  // between common practice and one baker: sources name from four hours to eight for such a dough, and flours and starters differ
	triedSD    = 0.12  // between a baker's own recipe and his doughs (a guess)
	recipeSD   = 0.08  // what one recipe has of its own (a guess)
	whimSD     = 0.07  // from dough to dough of one recipe (a guess, as for feeds)
	whimDF     = 6     // how many doughs that guess counts for
	perDegree  = 0.015 // of a degree, beyond the pace of yeast (as in package timetopeak)
	riseBy     = 0.7   // a target's power: a dough that lies still for an hour and then rises evenly has about this (a guess)
	riseSD     = 0.25
	fadesDays  = 1500 // what is known of a house fades to a third in so many days: a fifth in a year (a guess)
	oddFrom    = 4    // the smaller, the less an odd dough counts
	widenByDF  = 0.75
	restC      = 24 // the warmth from which degrees are counted
)

// mostDoughs is how many past doughs are remembered.
const mostDoughs = 40

// Model is what is known of one baker's doughs. It is not safe for concurrent
// use.
type Model struct {
	target float64
	past   []sign
	offs   []float64 // what each past dough took: the logarithm of how many times the word
}

// New returns a model for doughs that are to rise to a target, as a ratio.
func New(target float64) *Model {
	if !(target > 1.01 && target < 20) {
		target = 1.75
	}
	return &Model{target: target}
}

// sign is what a dough has in common with others.
type sign struct {
	at     time.Time
	recipe string
	sd     float64 // of the word
	warm   float64 // °C from restC
	rise   float64 // logarithm of its rise against the target's
}

// signOf reads a dough's signs; tempC is its mean warmth.
func (m *Model) signOf(r Recipe, at time.Time, tempC, rise float64) sign {
	s := sign{at: at, recipe: r.Name, sd: practiceSD, warm: min(max(tempC, 5), 38) - restC, rise: math.Log((rise - 1) / (m.target - 1))}
	if r.Tried {
		s.sd = triedSD
	}
	return s
}

// covariance is how much two doughs tell of each other.
func covariance(a, b sign) float64 {
	fade := math.Exp(-a.at.Sub(b.at).Abs().Hours() / 24 / fadesDays)
	sum := a.sd*b.sd*fade + perDegree*perDegree*a.warm*b.warm + riseSD*riseSD*a.rise*b.rise
	if a.recipe != "" && a.recipe == b.recipe {
		sum += recipeSD * recipeSD
	}
	return sum
}

// word is the logarithm of the warm hours that a recipe names for a rise.
func (m *Model) word(r Recipe, rise float64) float64 {
	w := math.Log(r.Time.Hours() * peak.Pace(r.AtC))
	of := r.Rise
	if of == 0 {
		of = m.target
	}
	return w + riseBy*math.Log((rise-1)/(of-1))
}

// step is how finely a course is walked along, longest how far.
const step, longest = 6 * time.Minute, 10 * 24 * time.Hour

// warmHours walks along a course for so long and returns the hours at 25 °C that
// it is worth, with its mean warmth.
func warmHours(c timetopeak.Course, d time.Duration) (hours, meanC float64) {
	n := 0
	for t := time.Duration(0); t < d; t += step {
		at := tempAt(c, t+step/2)
		hours += peak.Pace(at) * min(step, d-t).Hours()
		meanC += at
		n++
	}
	return hours, meanC / float64(max(n, 1))
}

// tempAt is a course's warmth; where it is unknown, that of a room.
func tempAt(c timetopeak.Course, t time.Duration) float64 {
	if c != nil {
		if at := c(t); !math.IsNaN(at) && !math.IsInf(at, 0) {
			return at
		}
	}
	return 22
}

// Learn takes in a dough that came to a target; doughs are learnt oldest first.
// It is false, and nothing is learnt, for what no dough does.
func (m *Model) Learn(p Past) bool {
	if !(p.Rise > 1.05 && p.Rise < 10) || p.After < 30*time.Minute || p.After > 4*24*time.Hour || !p.Recipe.usable() {
		return false
	}
	warm, meanC := warmHours(p.Course, p.After)
	if !(warm > 0.1) {
		return false // in the fridge; it says nothing of the house
	}
	m.past = append(m.past, m.signOf(p.Recipe, p.At, meanC, p.Rise))
	m.offs = append(m.offs, math.Log(warm)-m.word(p.Recipe, p.Rise))
	if n := len(m.past); n > mostDoughs {
		m.past, m.offs = m.past[n-mostDoughs:], m.offs[n-mostDoughs:]
	}
	return true
}

// Doughs is how many doughs were learnt.
func (m *Model) Doughs() int { return len(m.past) }

// ReadyAfter returns when a dough that is mixed at a moment stands at the
// target, if the course of its warmth comes true but for a doubt: a standard
// deviation in °C on the whole.
func (m *Model) ReadyAfter(r Recipe, at time.Time, c timetopeak.Course, doubtC float64) timetopeak.Span {
	return m.RisenAfter(r, m.target, at, c, doubtC)
}

// RisenAfter is ReadyAfter for a rise ratio of its own.
func (m *Model) RisenAfter(r Recipe, rise float64, at time.Time, c timetopeak.Course, doubtC float64) timetopeak.Span {
	if !r.usable() {
		r = Practice(0)
	}
	middle := m.word(r, rise)
	first, _ := timeTo(c, math.Exp(middle))
	_, meanC := warmHours(c, first)
	mean, sd := m.belief(m.signOf(r, at, meanC, rise))
	sd = math.Hypot(sd, doubtC*math.Abs(math.Log(peak.Pace(meanC+1)/peak.Pace(meanC-1)))/2)
	z := 1.2815515655446004 // half the width of an 80 % interval
	var out timetopeak.Span
	for i, to := range []*time.Duration{&out.Low, &out.Likely, &out.High} {
		*to, _ = timeTo(c, math.Exp(middle+mean+float64(i-1)*z*sd))
	}
	return out
}

// timeTo walks along a course until it is worth so many warm hours; false where
// it is not within days.
func timeTo(c timetopeak.Course, warm float64) (time.Duration, bool) {
	for t := time.Duration(0); t < longest; t += step {
		more := max(peak.Pace(tempAt(c, t+step/2)), 1e-3) * step.Hours()
		if warm <= more {
			return t + time.Duration(float64(step)*warm/more), true
		}
		warm -= more
	}
	return longest, false
}
