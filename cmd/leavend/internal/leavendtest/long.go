package leavendtest

import (
	"os"
	"testing"
)

// Long reports whether campaigns run at their full size: LEAVEND_LONG=1.
func Long() bool { return os.Getenv("LEAVEND_LONG") == "1" }

// NotUnderRace skips what only computes, in one goroutine: under the race
// detector it takes ten times as long and shows nothing more. `.ci/run` plays it
// without the detector.
func NotUnderRace(t *testing.T) {
	t.Helper()
	if race && !Long() {
		t.Skip("the race detector would take long and find nothing here; it runs without -race, or with LEAVEND_LONG=1")
	}
}
