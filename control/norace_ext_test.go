//go:build !race

package control_test

// raceEnabled reports that the race detector slows everything tenfold.
const raceEnabled = false
