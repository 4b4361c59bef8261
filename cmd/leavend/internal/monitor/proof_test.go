package monitor

import (
	"math"
	"testing"
	"time"

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
