//go:build !race

package leavendtest

const race = false
