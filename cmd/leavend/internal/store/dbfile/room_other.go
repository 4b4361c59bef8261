//go:build !unix

package dbfile

// freeIn cannot tell the room here.
func freeIn(string) (int64, bool) { return 0, false }

// sameDisk cannot tell here.
func sameDisk(string, string) bool { return false }
