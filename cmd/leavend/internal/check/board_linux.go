package check

import "golang.org/x/sys/unix"

// free returns the bytes that an ordinary user may still write.
func free(path string) (uint64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil {
		return 0, err
	}
	return s.Bavail * uint64(s.Bsize), nil
}

// synced asks the kernel whether something keeps its clock right: every time
// service clears STA_UNSYNC (adjtimex(2)).
func synced() (bool, error) {
	var t unix.Timex
	if _, err := unix.Adjtimex(&t); err != nil {
		return false, err
	}
	return t.Status&unix.STA_UNSYNC == 0, nil
}
