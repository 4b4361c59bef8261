package plan

import (
	"testing"
	"time"
)

// Who is up a little sooner has bread by an hour that sleep forbids: the oven must be
// on before the bake, and the baker is asleep.
func TestUp(t *testing.T) {
	p := usual()
	p.Ready, p.NoStarterHold = moment(5, 7, 10), true
	p.Now = moment(4, 20, 0) // only what is mixed in the night is ready
	p.Hours.Away = []Away{{Start: moment(4, 8, 0), End: moment(4, 21, 40)}}
	p.Running = &Running{Wait: "proof", Began: moment(4, 19, 0), Warmth: Warmth{C: 8}, Ready: func(float64) time.Duration { return 11 * time.Hour }}
	if found, err := Find(p); err == nil && found[0].Cost < lateCost {
		t.Fatal("it works without")
	}
	minute, ok := p.Up()
	if !ok || minute >= p.Hours.AsleepTo || minute < p.Hours.AsleepTo-60 {
		t.Fatalf("up at %d:%02d, %v", minute/60, minute%60, ok)
	}
	if step, at, why, ok := p.Needed(); !ok || step != "bake" || why != Asleep || at.Before(moment(5, 6, 0)) || !at.Before(moment(5, 6, 30)) {
		t.Errorf("it is needed to %q at %v (%q, %v), want the bake in the last half hour of the night", step, at, why, ok)
	}
	p.Hours.AsleepTo = minute
	if got := find(t, p)[0]; got.Cost >= lateCost {
		t.Errorf("up then it still costs %g", got.Cost)
	}
	p.Hours.AsleepFrom = p.Hours.AsleepTo
	if _, ok := p.Up(); ok {
		t.Error("who never sleeps is told to be up")
	}
}
