//go:build !unix

package store

// freeIn cannot tell the room here.
func freeIn(string) (int64, bool) { return 0, false }

// sameDisk cannot tell here.
func sameDisk(string, string) bool { return false }
