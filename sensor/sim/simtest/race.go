package simtest

import (
	"os"
	"runtime/debug"
	"slices"
	"testing"
)

// Race reports whether the race detector is on.
func Race() bool {
	info, _ := debug.ReadBuildInfo() // a test program has it
	return info != nil && slices.Contains(info.Settings, debug.BuildSetting{Key: "-race", Value: "true"})
}

// NotUnderRace skips a test under the race detector whose goroutines, if it has
// any, share nothing that those of other tests do not: computing takes ten times
// as long there. `.ci/run` plays it without.
func NotUnderRace(t *testing.T) {
	t.Helper()
	if Race() && os.Getenv("LEAVEND_LONG") != "1" {
		t.Skip("the race detector would take long and find nothing here; it runs without -race, or with LEAVEND_LONG=1")
	}
}
