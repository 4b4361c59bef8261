// Package planning finds the ways to a loaf by an hour, says them in a baker's
// words, and keeps the plan that was chosen: it tells of its steps, notes what
// is done and works the rest out again when the starter goes its own way.
package planning
