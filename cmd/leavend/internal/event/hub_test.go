package event

import (
	"context"
	"testing"
	"testing/synctest"
	"time"
)

// However slow a listener is, no event is lost, and lost statuses are counted.
func TestSlowListenerLosesNoEvent(t *testing.T) {
	var h Hub[int]
	l := h.Listen("slow")
	for n := range 2 * statusesKept {
		h.Status(n)
		h.Event(Event{Kind: Fed})
	}
	events, statuses, last := 0, 0, 0
	for _, it := range l.Flush() {
		if it.Event != nil {
			events++
			continue
		}
		statuses++
		last = *it.Status
	}
	if events != 2*statusesKept || statuses != statusesKept || last != 2*statusesKept-1 {
		t.Errorf("%d events, %d statuses, the last %d; want %d, %d and the newest", events, statuses, last, 2*statusesKept, statusesKept)
	}
	if got := h.Dropped()["slow"]; got != statusesKept {
		t.Errorf("%d statuses counted as dropped, want %d", got, statusesKept)
	}
}

// What is told before a listener runs, and while it ends, reaches it.
func TestFirstAndLastEventsAreHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var h Hub[int]
		listeners := [2]*Listener[int]{h.Listen("one"), h.Listen("two")}
		h.Event(Event{Kind: AlarmRaised})
		ctx, end := context.WithCancel(t.Context())
		var heard [2][]Kind
		for i, l := range listeners {
			go l.Run(ctx, func(it Item[int]) { heard[i] = append(heard[i], it.Event.Kind) })
		}
		synctest.Wait()
		end()
		h.Event(Event{Kind: AlarmCleared})
		synctest.Wait()
		for i, got := range heard {
			if len(got) != 2 || got[0] != AlarmRaised || got[1] != AlarmCleared {
				t.Errorf("listener %d heard %v", i, got)
			}
		}
	})
}

func TestFastClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewClock(time.Unix(0, 0), 60)
		ctx, end := context.WithCancel(t.Context())
		defer end()
		go c.Run(ctx)
		ticks := 0
		go c.Every(ctx, time.Minute, func(time.Time) { ticks++ })
		time.Sleep(10*time.Second + 10*time.Millisecond)
		synctest.Wait()
		if shown := c.Now().Sub(time.Unix(0, 0)); shown < 10*time.Minute || shown > 11*time.Minute || ticks != 10 {
			t.Errorf("after ten seconds the clock moved %v and ticked %d times a minute, want about ten minutes", shown, ticks)
		}
	})
}
