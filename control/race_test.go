//go:build race

package control

// raceEnabled reports that the race detector slows everything tenfold.
const raceEnabled = true
