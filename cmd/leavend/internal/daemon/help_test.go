package daemon

import (
	"testing"
	"time"

	"leavend/sensor/sim"
)

// What many tests of this folder begin with.

// invented is the invented kitchen of the demo, in the test's own time.
func invented(t testing.TB) *sim.Kitchen {
	t.Helper()
	k, err := sim.Demo(time.Now, 1)
	if err != nil {
		t.Fatal(err)
	}
	return k
}
