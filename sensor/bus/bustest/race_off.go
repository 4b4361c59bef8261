//go:build !race

package bustest

// Race reports that the race detector is off.
const Race = false
