package peak

import "testing"

// TestScoreMustStand: under a sensor that wanders a score above the limit for one
// minute makes no call, for some minutes it does, and a plain one does at once; a
// steady sensor is believed at once.
func TestScoreMustStand(t *testing.T) {
	const steady, wanders = -3, 0 // logarithms of the wander in tolerances
	m := &model{limits: []float32{0, 0}}
	for _, tt := range []struct {
		name   string
		wander float32
		scores []float32
		want   int // the minute of the call; -1 for none
	}{
		{"a dip of a minute", wanders, []float32{-8, -8, 3, -8, -8, -8}, -1},
		{"a fall that stands", wanders, []float32{-8, -8, 3, 4, 4, 4}, 4},
		{"a plain fall", wanders, []float32{-8, -8, plainScore + 1, -8}, 2},
		{"a steady sensor", steady, []float32{-8, -8, 1, -8}, 2},
	} {
		var mean meanScore
		got := -1
		for i, score := range tt.scores {
			if m.calls(&mean, score, tt.wander, 5+float64(i)/60) && got < 0 {
				got = i
			}
		}
		if got != tt.want {
			t.Errorf("%s: called in minute %d, want %d", tt.name, got, tt.want)
		}
	}
}
