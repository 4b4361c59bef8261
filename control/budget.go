package control

import (
	"math"
	"time"
)

// No reading lifts the energy that a mat may give. Beside the greatest duty of
// a day the guard keeps a thermal image of the vessel, as the relays do that
// protect motors: a first-order lag that follows what was given, as a share of
// full power, and no probe. Where the mat's power and its lightest load are
// known, heat ends while the image stands where the most that such a mat can
// warm such a load would bring it to 35 °C in a warm kitchen.
//
// The bound holds for a mat that lies open: in a box, or under a blanket, a mat
// of a few watts passes 35 °C. TestNoLiePasses35 searches the plants for the
// worst.

// What bounds the most a mat can warm a vessel.
const (
	promisedC    = 35   // what no vessel is to pass: dough dies above it (common practice)
	warmKitchenC = 22   // the kitchen for which that is promised (guess)
	rippleAtMost = 0.5  // what a pulse adds to a small jar, °C (found by the search)
	openMatC     = 22.5 // a mat alone warms its surface by no more; makers name 35 to 40 °C in 21 to 24 °C
	leastLossWK  = 0.42 // of a vessel of 1 kg, W/K: still air, 6 W/m²K over its least surface (common practice)
	mostPassWK   = 2.2  // from the mat into a vessel of 1 kg, W/K (guess)

	promisedRiseC = promisedC - warmKitchenC - rippleAtMost
)

// imageTime is the image's time constant: less than that of most vessels, so
// that it is warm before they are (guess, checked by the search). imageBand is
// how far it falls before heat may begin again.
const (
	imageTime = 15 * time.Minute
	imageBand = 0.1
)

// mostRiseC is the most that a mat of w watts can warm a vessel of kg kilograms
// above its room, K. Surfaces grow with the weight to the power of two thirds.
func mostRiseC(w, kg float64) float64 {
	size := math.Pow(kg, 2.0/3)
	mat, in, out := w/openMatC, mostPassWK*size, leastLossWK*size
	return w * in / (mat*(in+out) + in*out)
}

// Promise is what can be promised of a mat that lies open, whatever its probe
// says.
type Promise struct {
	Known  bool    // both the mat's power and its lightest load are known
	Kept   bool    // even full power for hours keeps the vessel below 35 °C
	LimitW float64 // the strongest mat for which it does with this load; 0 for none
	Share  float64 // of full power that it may give in the long run
}

// Promise returns what the settings allow to promise.
func (o Opts) Promise() Promise {
	o = o.withDefaults()
	if !(o.MatW > 0 && o.VesselKg > 0) {
		return Promise{Share: o.MaxDuty}
	}
	most := promisedRiseC / mostRiseC(o.MatW, o.VesselKg)
	p := Promise{Known: true, Kept: most >= 1, Share: min(o.MaxDuty, most)}
	for w := 0.5; w <= 200 && mostRiseC(w, o.VesselKg) <= promisedRiseC; w += 0.5 {
		p.LimitW = w
	}
	return p
}

// budget is the level that the image may reach; 1 is no bound.
func (o Opts) budget() float64 {
	if p := o.Promise(); p.Known && !p.Kept {
		return p.Share
	}
	return 1
}

// warmImage moves the image on by dt, with the mat on or off.
func (s *guardState) warmImage(l *limits, dt time.Duration) {
	if l.budget >= 1 {
		return
	}
	left := math.Exp(-dt.Seconds() / imageTime.Seconds())
	s.image *= left
	if s.on || s.unknown {
		s.image += 1 - left
	}
}

// overBudget reports whether the image stands too high to heat.
func (s *guardState) overBudget(l *limits) bool {
	return l.budget < 1 && (s.image >= l.budget || !s.on && s.image > l.budget-imageBand)
}

// capBudget ends the lease when the image reaches the budget.
func capBudget(l *limits, s *guardState) time.Duration {
	if l.budget >= 1 || s.image >= l.budget {
		return l.Lease
	}
	return time.Duration(imageTime.Seconds() * math.Log((1-s.image)/(1-l.budget)) * float64(time.Second))
}
