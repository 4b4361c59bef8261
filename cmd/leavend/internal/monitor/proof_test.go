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
	reached := peak.Event{Kind: peak.EventTarget, At: time.Unix(1, 0)}
	for _, tt := range []struct {
		name  string
		stage peak.Stage
		ratio float64
		event peak.Event
		want  Proof
	}{
		{"still rising", peak.Rising, 1.6, peak.Event{}, Underproofed},
		{"at its target", peak.AtPeak, 1.75, reached, Proofed},
		{"a little more", peak.AtPeak, 1.9, reached, Proofed},
		{"going over", peak.AtPeak, 2.0, reached, Overproofing},
		{"past its best", peak.AtPeak, 2.25, reached, Overproofed},
		{"sinking", peak.Falling, 1.5, reached, Overproofed},
		{"no reading", peak.AtPeak, math.NaN(), reached, Proofed},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := View{Target: tt.event, Status: peak.Status{Stage: tt.stage, RiseRatio: tt.ratio}}
			if got := w.Proof(1.75); got != tt.want {
				t.Errorf("%v, want %v", got, tt.want)
			}
		})
	}
	if got := (View{Target: reached, Status: peak.Status{RiseRatio: 3}}).Proof(0); got != Underproofed {
		t.Errorf("without a target %v", got)
	}
}

// TestProvedTellsOnce lets a rise waver about its thresholds: each is told
// once, until the next dough.
func TestProvedTellsOnce(t *testing.T) {
	v := NewVessel(config.Vessel{Slug: "bowl", Name: "Bowl", Kind: config.Bowl, TargetRatio: 1.75}, nil)
	v.detector.SetTarget(1.75)
	var told []event.Kind
	reach := func(ratios ...float64) {
		for i, r := range ratios {
			v.now = View{Target: v.target, Status: peak.Status{Stage: peak.AtPeak, RiseRatio: r}}
			for _, e := range v.proved(time.Unix(int64(100+i), 0)) {
				told = append(told, e.Kind)
			}
		}
	}
	reach(1.8, 2.1, 2.4) // no target was called: nothing is known
	v.target = peak.Event{Kind: peak.EventTarget, At: time.Unix(50, 0), PeakAt: time.Unix(50, 0)}
	reach(1.75, 1.9, 2.0, 1.96, 2.01, 2.25, 2.1, 2.3)
	if want := []event.Kind{event.Over, event.Past}; !slices.Equal(told, want) {
		t.Errorf("told %v, want %v", told, want)
	}
}
