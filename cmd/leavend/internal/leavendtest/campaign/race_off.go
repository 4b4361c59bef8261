//go:build !race

package campaign

const race = false
