//go:build race

package bustest

// Race reports that the race detector is on. It allocates, so that allocations
// cannot be counted.
const Race = true
