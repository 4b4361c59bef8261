// Package campaign says how long the tests of this run may take.
package campaign

import (
	"os"
	"testing"
)

// Long reports whether campaigns run at their full size: LEAVEND_LONG=1.
func Long() bool { return os.Getenv("LEAVEND_LONG") == "1" }

// NotUnderRace skips a test under the race detector that computes in one
// goroutine, or lives through hours that show the detector no goroutine which
// another test does not: it takes five to ten times as long there. `.ci/run`
// plays these tests without the detector.
func NotUnderRace(t *testing.T) {
	t.Helper()
	if race && !Long() {
		t.Skip("the race detector would take long and find nothing here; it runs without -race, or with LEAVEND_LONG=1")
	}
}
