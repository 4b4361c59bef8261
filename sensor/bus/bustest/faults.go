package bustest

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
)

// Rig is a driver wired to its emulated chip, for the tests that every driver
// passes.
type Rig struct {
	Source sensor.Source
	Bus    *Bus
	Core   *Core                              // nil where the chip has no register file
	Name   string                             // what every error starts with: chip, bus and address
	Vary   func(n int)                        // sets what reading n sees
	Good   func(n int, r sensor.Reading) bool // whether r is what reading n saw
}

// fault is one way a bus or a chip fails.
type fault struct {
	name       string
	begin, end func(Rig)
	want       string // a word in the error; empty where it depends on the chip
}

func faults() []fault {
	power := func(on bool) func(Rig) {
		return func(r Rig) {
			if r.Core != nil {
				r.Core.Power(on)
			} else if on {
				r.Bus.Fault(nil)
			} else {
				r.Bus.Fault(func(uint16, []byte, []byte) error { return NoAck() })
			}
		}
	}
	corrupt := func(f func(_ uint16, w, r []byte)) func(Rig) { return func(r Rig) { r.Bus.Corrupt(f) } }
	return []fault{
		{"unplugged", power(false), power(true), "no acknowledge"},
		{"bus stuck", func(r Rig) { r.Bus.Stick(1000) }, func(r Rig) { r.Bus.Stick(0) }, "holds SDA or SCL low"},
		{"all replies high", corrupt(fill(0xFF)), corrupt(nil), ""},
		{"all replies low", corrupt(fill(0x00)), corrupt(nil), ""},
		{"garbage", corrupt(garbage(rand.New(rand.NewPCG(1, 2)))), corrupt(nil), ""},
	}
}

// Faults injects each fault between good readings. During the fault every read
// is an error that names chip, bus and address; the second read after it, at
// the latest, is good, with the driver never made again.
func Faults(t *testing.T, open func(testing.TB) Rig) {
	for _, f := range faults() {
		t.Run(f.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := open(t)
				r.good(t, 0)
				f.begin(r)
				for range 3 {
					v, err := r.Source.Read(t.Context())
					if err == nil || v != (sensor.Reading{}) {
						t.Fatalf("during the fault: %+v, %v", v, err)
					}
					if !strings.HasPrefix(err.Error(), r.Name) || !strings.Contains(err.Error(), f.want) {
						t.Errorf("got %q, want it to start with %q and hold %q", err, r.Name, f.want)
					}
				}
				f.end(r)
				r.recovers(t, 1)
			})
		})
	}
	t.Run("one transfer without acknowledge", func(t *testing.T) { oneLost(t, open) })
	t.Run("reset at every transfer", func(t *testing.T) { resets(t, open) })
	t.Run("no allocation", func(t *testing.T) { steady(t, open) })
	t.Run("context over", func(t *testing.T) { contextOver(t, open) })
}

// good fails the test unless reading n is right.
func (r Rig) good(t testing.TB, n int) {
	t.Helper()
	time.Sleep(time.Second)
	r.Vary(n)
	v, err := r.Source.Read(context.Background())
	if err != nil || !r.Good(n, v) {
		t.Fatalf("reading %d: %+v, %v", n, v, err)
	}
}

// recovers reads twice, one period apart; the second must be right, and the
// first must be right or an error.
func (r Rig) recovers(t testing.TB, n int) {
	t.Helper()
	time.Sleep(10 * time.Second)
	r.Vary(n)
	v, err := r.Source.Read(context.Background())
	if err == nil && !r.Good(n, v) {
		t.Fatalf("after the fault: accepted %+v", v)
	}
	time.Sleep(10 * time.Second)
	r.good(t, n+1)
}

// oneLost drops each single transfer of a read in turn.
func oneLost(t *testing.T, open func(testing.TB) Rig) {
	eachTransfer(t, open, func(Rig) error { return NoAck() })
}

// resets dips the supply before each single transfer of a read in turn.
func resets(t *testing.T, open func(testing.TB) Rig) {
	eachTransfer(t, open, func(r Rig) error {
		if r.Core != nil {
			r.Core.Reset()
		}
		return nil
	})
}

// eachTransfer has something befall each single transfer of a read in turn.
func eachTransfer(t *testing.T, open func(testing.TB) Rig, befall func(Rig) error) {
	synctest.Test(t, func(t *testing.T) {
		r := open(t)
		r.good(t, 0)
		from := r.Bus.Count()
		r.good(t, 1)
		transfers := r.Bus.Count() - from
		for k := range transfers {
			left := k
			r.Bus.Fault(func(uint16, []byte, []byte) error {
				if left--; left == -1 {
					return befall(r)
				}
				return nil
			})
			n := 10 * (k + 1)
			r.Vary(n)
			v, err := r.Source.Read(t.Context())
			if err == nil && !r.Good(n, v) {
				t.Fatalf("transfer %d: accepted %+v", k, v)
			}
			r.Bus.Fault(nil)
			r.recovers(t, n+1)
		}
	})
}

// steady makes sure that a reading allocates nothing, once the driver has met
// its chip.
func steady(t *testing.T, open func(testing.TB) Rig) {
	if Race {
		t.Skip("the race detector allocates")
	}
	synctest.Test(t, func(t *testing.T) {
		r := open(t)
		r.good(t, 0)
		ctx := t.Context()
		if n := testing.AllocsPerRun(50, func() {
			if _, err := r.Source.Read(ctx); err != nil {
				t.Fatal(err)
			}
		}); n != 0 {
			t.Errorf("%v allocations a reading", n)
		}
	})
}

// contextOver makes sure that a read with no time left says so.
func contextOver(t *testing.T, open func(testing.TB) Rig) {
	synctest.Test(t, func(t *testing.T) {
		r := open(t)
		r.good(t, 0)
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if v, err := r.Source.Read(ctx); err == nil || !strings.HasPrefix(err.Error(), r.Name) {
			t.Errorf("got %+v, %v", v, err)
		}
		r.recovers(t, 1)
	})
}

// fill returns a corruption that sets every byte of every reply.
func fill(v byte) func(uint16, []byte, []byte) {
	return func(_ uint16, _, r []byte) {
		for i := range r {
			r[i] = v
		}
	}
}

// garbage returns a corruption that fills replies with random bytes.
func garbage(rng *rand.Rand) func(uint16, []byte, []byte) {
	return func(_ uint16, _, r []byte) {
		for i := range r {
			r[i] = byte(rng.Uint32())
		}
	}
}
