package monitor

import (
	"math"
	"slices"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/peak"
)

func TestProof(t *testing.T) {
	for _, tt := range []struct {
		name    string
		ratio   float64
		reached bool
		want    Proof
	}{
		{"still rising", 1.6, false, Underproofed},
		{"at its target", 1.75, true, Proofed},
		{"a little more", 1.9, true, Proofed},
		{"going over", 2.0, true, Overproofing},
		{"past its best", 2.25, true, Overproofed},
		{"sinking", 1.5, true, Overproofed},
		{"no reading", math.NaN(), true, Proofed},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := proofAt(tt.ratio, 1.75, tt.reached); got != tt.want {
				t.Errorf("%v, want %v", got, tt.want)
			}
		})
	}
	if got := proofAt(3, 0, true); got != Underproofed {
		t.Errorf("without a target %v", got)
	}
}

// TestPassedTellsOnce lets a rise waver about its thresholds: each is told
// once, until the next dough.
func TestPassedTellsOnce(t *testing.T) {
	v := NewVessel(config.Vessel{Slug: "bowl", Name: "Bowl", Kind: config.Bowl, TargetRatio: 1.75}, nil)
	var told []event.Kind
	reach := func(ratios ...float64) {
		for i, r := range ratios {
			v.now = observation{Status: peak.Status{Stage: peak.Rising, RiseRatio: r}}
			v.now.Stage = v.curveStage()
			for _, e := range v.passed(time.Unix(int64(100+i), 0)) {
				told = append(told, e.Kind)
			}
		}
	}
	reach(1.8, 2.1, 2.4) // no target was called: nothing is known
	v.run.call = peak.Event{Kind: peak.EventTarget, At: time.Unix(50, 0), PeakAt: time.Unix(50, 0)}
	reach(1.75, 1.9, 2.0, 1.96, 2.01, 2.25, 2.1, 2.3)
	if want := []event.Kind{event.Over, event.Past}; !slices.Equal(told, want) {
		t.Errorf("told %v, want %v", told, want)
	}
}
