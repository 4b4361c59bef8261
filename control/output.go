package control

import (
	"context"
	"sync"
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

// Dry is an output with nothing behind it, for a kitchen without a mat and
// for simulations, which can ask what the mat would do. The zero value is
// ready.
type Dry struct {
	mu sync.Mutex // guards on
	on bool
}

// On notes that the mat would be on.
func (d *Dry) On(context.Context, time.Duration) error { d.set(true); return nil }

// Off notes that the mat would be off.
func (d *Dry) Off(context.Context) error { d.set(false); return nil }

// IsOn reports what was commanded last.
func (d *Dry) IsOn() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.on
}

// String says that nothing is switched.
func (d *Dry) String() string { return "no output (dry)" }

func (d *Dry) set(on bool) {
	d.mu.Lock()
	d.on = on
	d.mu.Unlock()
}
