package control

import (
	"context"
	"time"
)

// Output is whatever switches the mat. On is permission for the length of the
// lease: it switches on or renews, and an output that can let go by itself
// when the lease runs out does so. Off switches off now. An error from either
// means unknown, and the mat is then taken to be on.
//
// Both must return soon after ctx ends.
type Output interface {
	On(ctx context.Context, lease time.Duration) error
	Off(ctx context.Context) error
	String() string
}

// Checker is an Output that learns later whether it was obeyed, such as a
// plug that echoes its state. Check returns an error when the last command
// has not been confirmed in time or the device says something else; it is
// asked at every step and treats a nil as "as commanded, as far as is known".
type Checker interface {
	Check(now time.Time) error
}

// Starter is an Output that takes a while to be reached after the start, such
// as a plug that has to find its broker first. While Starting, the output is
// unknown and nothing heats, but that is no fault yet.
type Starter interface {
	Starting(now time.Time) bool
}

// Dry is an output with nothing behind it, for a kitchen without a mat.
type Dry struct{}

// On switches nothing.
func (Dry) On(context.Context, time.Duration) error { return nil }

// Off switches nothing.
func (Dry) Off(context.Context) error { return nil }

// String says that nothing is switched.
func (Dry) String() string { return "no output (dry)" }
