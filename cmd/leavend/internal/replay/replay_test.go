package replay

import (
	"testing"
	"time"

	"leavend/peak"
	"leavend/sensor/recording"
)

// TestReplayForgetsAtANewStarter replays feeds of one starter and then of
// another: the detector knows only what the second showed.
func TestReplayForgetsAtANewStarter(t *testing.T) {
	r := &player{tell: func(peak.Event) {}, opts: peak.Opts{History: nil}, detector: peak.New(peak.Opts{History: []peak.Feed{{
		WarmHours: 5, RiseMM: 60, Curve: make([]float32, 20),
	}}})}
	row := recording.Empty(time.Now())
	if r.row(row); len(r.detector.History()) != 1 {
		t.Fatalf("it begins with %d past feeds, want 1", len(r.detector.History()))
	}
	row.Note = recording.NewStarter
	if r.row(row); len(r.detector.History()) != 0 {
		t.Errorf("with a new starter it knows %d past feeds, want none", len(r.detector.History()))
	}
}
