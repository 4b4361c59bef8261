package bus

import (
	"fmt"
	"io"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
)

// Trace notes the transfers of buses as lines of text, so that what a chip said
// can be played back in a test (bustest.Play):
//
//	0.012345 I2C1 0x29 w 010f r eacc
//	0.014001 I2C1 0x29 w 0091 r 2 ! no acknowledge
//
// The first number is seconds since the trace began. What is written and what is
// read is in hexadecimal, or "-" for nothing. Other lines may stand between.
type Trace struct {
	began time.Time

	mu  sync.Mutex // guards what follows
	to  io.Writer
	err error
}

// NewTrace returns a trace that is written to a file or the like.
func NewTrace(to io.Writer) *Trace { return &Trace{began: time.Now(), to: to} }

// Note writes a line of the caller's, behind the time.
func (t *Trace) Note(format string, args ...any) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.to, "%.6f %s\n", time.Since(t.began).Seconds(), fmt.Sprintf(format, args...))
	}
}

// Err returns the first error of writing.
func (t *Trace) Err() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.err
}

// Bus returns a bus whose transfers are noted.
func (t *Trace) Bus(b i2c.BusCloser) i2c.BusCloser { return traced{b, t} }

type traced struct {
	i2c.BusCloser
	trace *Trace
}

// Tx does a transfer and notes it.
func (b traced) Tx(addr uint16, w, r []byte) error {
	err := b.BusCloser.Tx(addr, w, r)
	if err != nil {
		b.trace.Note("%s 0x%02x w %s r %d ! %v", b, addr, hexOf(w), len(r), err)
	} else {
		b.trace.Note("%s 0x%02x w %s r %s", b, addr, hexOf(w), hexOf(r))
	}
	return err
}

// hexOf writes bytes, or "-" for none.
func hexOf(b []byte) string {
	if len(b) == 0 {
		return "-"
	}
	return fmt.Sprintf("%x", b)
}
