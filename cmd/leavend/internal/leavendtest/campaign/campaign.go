// Package campaign says how long the tests of this run may take.
package campaign

import "os"

// Long reports whether campaigns run at their full size: LEAVEND_LONG=1.
func Long() bool { return os.Getenv("LEAVEND_LONG") == "1" }
