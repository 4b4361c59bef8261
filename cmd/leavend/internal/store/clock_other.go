//go:build !linux

package store

// SystemClock is Go's monotonic clock, counted from the start of the process:
// each start counts as a boot.
func SystemClock() Clock { return processClock() }
