//go:build !unix

package dbfile

// FreeIn cannot tell the room here.
func FreeIn(string) (int64, bool) { return 0, false }

// sameDisk cannot tell here.
func sameDisk(string, string) bool { return false }
