// Package blocking lets go of a call that blocks in the kernel when a context
// ends, and takes up its result later. Such a call cannot be stopped, only
// left behind; there is never a second one beside it.
package blocking

import (
	"context"
	"time"

	"leavend/sensor"
)

// Stale is the age beyond which a measurement says nothing about now.
const Stale = 5 * time.Second

// Call runs one call after the other. It is used from one goroutine.
type Call struct {
	call func() (sensor.Reading, error)
	run  func() // as a value, so that starting it allocates nothing
	done chan result
	busy bool
}

// result is what the call gave.
type result struct {
	r   sensor.Reading
	err error
}

// New returns a Call of the given call.
func New(call func() (sensor.Reading, error)) *Call {
	f := &Call{call: call, done: make(chan result, 1)}
	f.run = func() {
		r, err := f.call()
		f.done <- result{r, err}
	}
	return f
}

// Do waits for a measurement that began at most Stale before now. When ctx
// ends first it returns ctx's error, and the call goes on behind its back.
func (f *Call) Do(ctx context.Context) (sensor.Reading, error) {
	asked := time.Now()
	for {
		if err := ctx.Err(); err != nil {
			return sensor.Reading{}, err
		}
		if !f.busy {
			f.busy = true
			go f.run()
		}
		select {
		case <-ctx.Done():
			return sensor.Reading{}, ctx.Err()
		case res := <-f.done:
			f.busy = false
			if res.err == nil && asked.Sub(res.r.At) > Stale {
				continue
			}
			return res.r, res.err
		}
	}
}
