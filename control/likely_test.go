package control_test

import (
	"strings"
	"testing"
	"time"

	"leavend/control"
)

// A probe that slipped out and a mat that gives no heat look different, and the
// fault says which is likely.
func TestLikelyCauseIsSaid(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine a plant: nothing to race")
	}
	for _, tt := range []struct {
		name, says string
		begin      func(b *bench)
	}{
		{"a probe in the air", "slipped out", func(b *bench) { b.p.probe = "air" }},
		{"a mat without power", "gives no heat", func(b *bench) { b.p.w = 0 }},
	} {
		right, found := 0, 0
		const n = 6
		all := make([]string, n)
		each(n, func(seed uint64) {
			p, set := held(seed, "calm")
			b := newBench(p, control.Opts{SetpointC: set})
			b.run(6 * time.Hour)
			tt.begin(b)
			for range 8 {
				b.run(time.Hour)
				for _, f := range b.m.State().Faults {
					if f.Kind == control.FaultNoGain && all[seed] == "" {
						all[seed] = "found: " + f.Detail
					}
				}
			}
		})
		for _, said := range all {
			if said != "" {
				found++
			}
			if strings.Contains(said, tt.says) {
				right++
			}
		}
		t.Logf("%s: found %d of %d, cause named %d", tt.name, found, n, right)
		if found < n-1 || right < found-1 {
			t.Errorf("%s: %q", tt.name, all)
		}
	}
}
