package monitor

import (
	"math"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/peak"
)

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

// Proof tells how far dough has come that should rise to target times its
// height.
func (w View) Proof(target float64) Proof {
	s := w.Status
	if w.Target.At.IsZero() || !(target > 1) {
		return Underproofed
	}
	risen := (s.RiseRatio - 1) / (target - 1)
	switch {
	case s.Stage == peak.Falling || s.Stage == peak.Collapsed || risen >= pastShare:
		return Overproofed
	case math.IsNaN(risen) || risen < overShare:
		return Proofed
	}
	return Overproofing
}

// proved tells once when dough goes over, and once when it is past its best.
// The caller holds mu.
func (v *Vessel) proved(at time.Time) []event.Event {
	if v.Conf.Kind != config.Bowl {
		return nil
	}
	now := v.now.Proof(v.detector.Target())
	if now <= v.proof {
		return nil
	}
	v.proof = now
	if now < Overproofing {
		return nil
	}
	kind, says := event.Over, " is going over"
	if now == Overproofed {
		kind, says = event.Past, " is past its best"
	}
	s := v.now.Status
	reached := v.target
	reached.At, reached.RiseRatio, reached.RiseMM, reached.HeightMM = at, s.RiseRatio, s.RiseMM, s.HeightMM
	return []event.Event{{Kind: kind, Subject: v.Conf.Slug, At: at, Detected: reached, Text: v.Conf.Name + says}}
}
