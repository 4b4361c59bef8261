package control

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// slow is an output whose writes take as long as they are let.
type slow struct {
	mu   sync.Mutex // guards on
	on   bool
	wait time.Duration
}

func (s *slow) On(ctx context.Context, _ time.Duration) error { return s.write(ctx, true) }
func (s *slow) Off(ctx context.Context) error                 { return s.write(ctx, false) }
func (s *slow) String() string                                { return "slow output" }

func (s *slow) write(ctx context.Context, on bool) error {
	select {
	case <-time.After(s.wait):
	case <-ctx.Done():
		return ctx.Err()
	}
	s.mu.Lock()
	s.on = on
	s.mu.Unlock()
	return nil
}

// TestOffBeatsOnInARace is rule 11 with real goroutines: readings that ask for
// heat, ticks and the user's off all at once. Whatever the order, once off was
// answered nothing switches on. (Not in virtual time: a goroutine that waits
// for a mutex would hold its clock.)
func TestOffBeatsOnInARace(t *testing.T) {
	for range 10 {
		out := &slow{wait: 50 * time.Microsecond}
		m, err := New(out, Opts{Plain: true})
		if err != nil {
			t.Fatal(err)
		}
		begin := time.Now()
		var past atomic.Int64
		now := func() time.Time { return begin.Add(time.Duration(past.Add(int64(200 * time.Millisecond)))) }
		_ = m.SetMode(now(), Hold)
		for !m.State().On {
			m.Temperature(now(), "crumb", AtVessel, 20)
		}
		var all sync.WaitGroup
		for range 4 {
			all.Go(func() {
				for range 100 {
					m.Temperature(now(), "crumb", AtVessel, 20)
					m.Tick(now())
				}
			})
		}
		_ = m.SetMode(now(), Off)
		for range 200 {
			out.mu.Lock()
			on := out.on
			out.mu.Unlock()
			if on {
				t.Fatal("on after off was answered")
			}
			runtime.Gosched()
		}
		all.Wait()
	}
}

// TestBlockedOutputBlocksNobodyForLong is rule 15: an output that hangs costs
// a decision two seconds, and whoever asks for the state nothing.
func TestBlockedOutputBlocksNobodyForLong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := &slow{wait: time.Hour}
		began := time.Now()
		m, err := New(out, Opts{})
		if err != nil {
			t.Fatal(err)
		}
		m.Tick(time.Now())
		if took := time.Since(began); took > 2*writeLimit {
			t.Errorf("New and a tick took %s", took)
		}
		done := make(chan error)
		go func() { done <- m.SetMode(time.Now(), Hold) }()
		synctest.Wait()
		began = time.Now()
		if s := m.State(); s.Output != OutputUnknown || time.Since(began) != 0 {
			t.Errorf("state: output %s after %s", s.Output, time.Since(began))
		}
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := m.Close(); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("Close over a hanging output: %v", err)
		}
	})
}
