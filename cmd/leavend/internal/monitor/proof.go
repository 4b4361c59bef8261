package monitor

import "math"

// Proof is how far dough has come.
type Proof uint8

// The stages of proofing, in order.
const (
	Underproofed Proof = iota // below its target, or no target is known
	Proofed                   // at its target: shape it now
	Overproofing              // risen more than it should: hurry
	Overproofed               // far too much, or sinking
)

// How much more than its target dough must have risen to count as going over,
// and as past its best, as a share of the rise that was wanted: dough wanted at
// 1.75 times its height is past its best at 2.2 times. A guess within common
// practice, which ends the first rise anywhere from half as much again to
// double.
const (
	overShare = 1.3
	pastShare = 1.6
)

// sunkShare is how far below its target dough must sink to count as falling
// (a choice of ours: well beyond the sensor's noise).
const sunkShare = 0.9

// proof tells how far dough has come. The caller holds mu.
func (v *Vessel) proof() Proof {
	return proofAt(v.now.Status.RiseRatio, v.detector.Target(), !v.run.call.At.IsZero())
}

// proofAt tells how far dough has come that should rise to target times its
// height, stands at ratio, and has or has not been at its target.
func proofAt(ratio, target float64, reached bool) Proof {
	if !reached || !(target > 1) {
		return Underproofed
	}
	risen := (ratio - 1) / (target - 1)
	switch {
	case ratio < sunkShare*target, risen >= pastShare:
		return Overproofed
	case math.IsNaN(risen) || risen < overShare:
		return Proofed
	}
	return Overproofing
}
