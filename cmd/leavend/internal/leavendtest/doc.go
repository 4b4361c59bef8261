// Package leavendtest holds what the tests of several packages need: configs of
// invented kitchens, filled stores, golden files, and programs to test against.
package leavendtest
