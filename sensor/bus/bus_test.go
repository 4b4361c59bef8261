package bus_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor/bus"
	"leavend/sensor/bus/bustest"
)

// TestClear lets a chip hold SDA for each number of clocks it may need: a byte
// and its acknowledge are nine.
func TestClear(t *testing.T) {
	for need := range 12 {
		b := bustest.New("I2C1")
		b.Stick(need)
		scl, sda := b.Lines()
		pulses, err := bus.Clear(scl, sda)
		if need <= 9 && (err != nil || pulses != need) {
			t.Errorf("%d clocks needed: %d given, %v", need, pulses, err)
		}
		if need > 9 && (!errors.Is(err, bus.ErrHeld) || pulses != 9) {
			t.Errorf("%d clocks needed: %d given, %v", need, pulses, err)
		}
		if scl.DrivenHigh()+sda.DrivenHigh() > 0 {
			t.Error("a line was driven high against a chip that may hold it")
		}
	}
}

func TestClearDiagnoses(t *testing.T) {
	scl, sda := bustest.NewPin("SCL"), bustest.NewPin("SDA")
	scl.Hold(true)
	if _, err := bus.Clear(scl, sda); !errors.Is(err, bus.ErrHeld) || !strings.Contains(err.Error(), "SCL is low") {
		t.Errorf("SCL held: %v", err)
	}
	sda.Hold(true)
	if lines, err := bus.Look(scl, sda); err != nil || !strings.Contains(lines.String(), "no supply") {
		t.Errorf("both held: %v, %v", lines, err)
	}
	broken := errors.New("no such line")
	scl.Fail(broken)
	if _, err := bus.Clear(scl, sda); !errors.Is(err, broken) {
		t.Errorf("a pin that cannot be had: %v", err)
	}
}

func TestExplain(t *testing.T) {
	tests := []struct {
		name string
		err  error
		want error
	}{
		{"bcm2835 through periph", bustest.NoAck(), bus.ErrNoAck},
		{"designware through periph", fmt.Errorf("sysfs-i2c: %v", syscall.ENXIO), bus.ErrNoAck},
		{"wrapped", fmt.Errorf("tx: %w", syscall.EREMOTEIO), bus.ErrNoAck},
		{"stuck", bustest.TimedOut(), bus.ErrStuck},
		{"arbitration lost", fmt.Errorf("sysfs-i2c: %v", syscall.EAGAIN), bus.ErrStuck},
	}
	for _, tt := range tests {
		if got := bus.Explain(tt.err); !errors.Is(got, tt.want) {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
		}
	}
	other := errors.New("something else")
	if got := bus.Explain(other); got != other || bus.Explain(nil) != nil {
		t.Errorf("got %v", got)
	}
}

// echo is a chip with 256 registers.
type echo struct {
	bustest.Memory
	addr uint16
}

func (e *echo) Addr() uint16         { return e.addr }
func (e *echo) Tx(w, r []byte) error { e.Memory.Tx(w, r); return nil }

func TestRegs(t *testing.T) {
	chip := &echo{addr: 0x29}
	chip.Bytes = make([]byte, 256)
	b := bustest.New("I2C1", chip)
	g := bus.New(b, 0x29, "echo", bus.Index8)
	g.Put8(0x10, 0xAB)
	g.Put16(0x12, 0x1234)
	g.Put32(0x14, 0xDEADBEEF)
	if g.U8(0x10) != 0xAB || g.U16(0x12) != 0x1234 || g.U16(0x16) != 0xBEEF || g.Take() != nil {
		t.Errorf("registers % x", chip.Bytes[0x10:0x18])
	}

	b.Fault(func(uint16, []byte, []byte) error { return bustest.NoAck() })
	before := b.Count()
	if got := g.U16(0x12); got != 0 {
		t.Errorf("a failed read gave 0x%04x", got)
	}
	g.Put8(0x10, 1) // Skipped, as everything behind an error.
	if b.Count() != before+1 {
		t.Errorf("%d transfers after an error", b.Count()-before-1)
	}
	err := g.Fail("test", g.Take())
	want := "echo I2C1 0x29: test: read register 0x12: no acknowledge: not connected, without power, or at another address (sysfs-i2c: remote I/O error)"
	if err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	if g.Take() != nil {
		t.Error("the error came back")
	}
}

func TestSureAndFresh(t *testing.T) {
	chip := &echo{addr: 0x29}
	chip.Bytes = make([]byte, 256)
	b := bustest.New("I2C1", chip)
	g := bus.New(b, 0x29, "echo", bus.Index8)
	chip.Bytes[5] = 1
	if g.Fresh(0, 8); g.Take() != nil {
		t.Error("the first block was refused")
	}
	if g.Fresh(0, 8); !errors.Is(g.Take(), bus.ErrStale) {
		t.Error("the same block was taken for a new one")
	}
	chip.Bytes[5] = 2
	if g.Fresh(0, 8)[5] != 2 || g.Take() != nil {
		t.Error("a new block was refused")
	}
	n := 0
	b.Corrupt(func(_ uint16, _, r []byte) { n++; r[0] = byte(n) })
	if r := g.Sure(0, 2); !errors.Is(g.Take(), bus.ErrNoise) || r[0] != 0 {
		t.Error("two different reads were taken for sure")
	}
}

func TestPauseHeedsItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := bus.New(bustest.New("I2C1"), 0x29, "echo", bus.Index8)
		ctx, cancel := context.WithTimeout(t.Context(), 25*time.Millisecond)
		defer cancel()
		start := time.Now()
		g.Pause(ctx, time.Minute)
		if err := g.Take(); !errors.Is(err, context.DeadlineExceeded) || time.Since(start) > 40*time.Millisecond {
			t.Errorf("%v after %v", err, time.Since(start))
		}
	})
}

// TestTwoAtOneAddress shows what the emulated bus does with a clash: it ANDs,
// as open collectors do.
func TestTwoAtOneAddress(t *testing.T) {
	a, b := &echo{addr: 0x29}, &echo{addr: 0x29}
	a.Bytes, b.Bytes = []byte{0xF0}, []byte{0x3C}
	g := bus.New(bustest.New("I2C1", a, b), 0x29, "echo", bus.Index8)
	if got := g.U8(0); got != 0x30 {
		t.Errorf("got 0x%02x, want 0x30", got)
	}
}

// TestFreed lets a chip hold the bus after each transfer of a row: the reading
// fails once, and says why.
func TestFreed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := &echo{addr: 0x29}
		chip.Bytes = []byte{7}
		b := bustest.New("I2C1", chip)
		scl, sda := b.Lines()
		f := bus.NewFreed(b, scl, sda, 0)
		g := bus.New(f, 0x29, "echo", bus.Index8)
		b.Stick(5)
		g.U8(0)
		err := g.Fail("test", g.Take())
		want := "echo I2C1 0x29: test: read register 0x00: the bus is stuck: a chip or a wire holds SDA or SCL low (sysfs-i2c: connection timed out); freed by 5 clock pulses"
		if err.Error() != want || !errors.Is(err, bus.ErrStuck) {
			t.Errorf("got  %v\nwant %s", err, want)
		}
		if got := g.U8(0); got != 7 || g.Take() != nil {
			t.Errorf("the next read gave %d", got)
		}
		scl.Hold(true) // Now it is a wire.
		b.Stick(1000)
		time.Sleep(10 * time.Second)
		for _, want := range []string{"SCL and SDA are low", "connection timed out)"} {
			g.U8(0)
			if err := g.Take(); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("got %v, want a word on %q", err, want)
			}
		}
	})
}
