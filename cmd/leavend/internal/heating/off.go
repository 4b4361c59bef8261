package heating

import (
	"context"
	"errors"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/control"
)

// Confirmer is an output that knows whether what it was told last is so.
type Confirmer interface{ Confirmed() bool }

// Confirmed waits until an output has confirmed the last command, if it can.
func Confirmed(ctx context.Context, out control.Output, within time.Duration) error {
	c, ok := out.(Confirmer)
	for until := time.Now().Add(within); ok && !c.Confirmed(); {
		if time.Now().After(until) {
			return fmt.Errorf("%s did not confirm within %s", out, text.Spell(within))
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
	return nil
}

// OffConfirmed tells an output to be off, until it says that it is. A plug may
// lose a message, so it is told again.
func OffConfirmed(ctx context.Context, out control.Output, within time.Duration) error {
	err := errors.New("it was not reached")
	for until := time.Now().Add(within); ; {
		left := time.Until(until)
		if left <= 0 {
			return err
		}
		if err = out.Off(ctx); err == nil {
			if Confirmed(ctx, out, min(left, 2*time.Second)) == nil {
				return nil
			}
			err = fmt.Errorf("%s was told so for %s, and does not answer", out, within.Round(time.Second))
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(min(left, 200*time.Millisecond)):
		}
	}
}

// OffPatience is how long the mat's output may take to confirm an off.
func (h *Heater) OffPatience() time.Duration {
	if h.conf.Mat.Output == "plug" {
		return h.conf.Mat.Plug.EchoDeadline
	}
	return time.Second
}

// HoldOff switches the mat off until a person allows it again, and finds out
// whether it is off: an output that can answer is asked now. Off is nil when it is
// known to be; stored is nil when that it is held off is on the disk. Where the
// history is in memory only, a file says it instead.
func (h *Heater) HoldOff(ctx context.Context, inMemory bool) (off, stored error) {
	now := h.clock.Now()
	_ = h.Mat.SetMode(now, control.Off) // off is a mode that is never refused
	written := make(chan error, 1)
	go func() {
		err := h.Change(context.WithoutCancel(ctx), func(m *Memory) { m.Mode, m.Held = control.Off, true })
		if inMemory {
			err = HoldOff(h.conf.DataDir, h.folder)
		}
		written <- err
	}()
	off = OffConfirmed(ctx, h.Output, h.OffPatience())
	select {
	case stored = <-written:
	case <-time.After(2 * time.Second):
		stored = errors.New("the disk does not answer")
	}
	h.raiseWaits(now)
	return off, stored
}
