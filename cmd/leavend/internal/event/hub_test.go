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

// What is told before a listener runs, and before its context ends, reaches it.
// Each listener sees both that it is woken and that its context has ended, and
// may take either first; among twenty listeners some take each.
func TestFirstAndLastEventsAreHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var h Hub[int]
		var listeners [20]*Listener[int]
		for i := range listeners {
			listeners[i] = h.Listen("one")
		}
		h.Event(Event{Kind: AlarmRaised})
		ctx, end := context.WithCancel(t.Context())
		var heard [len(listeners)][]Kind
		ended := make(chan struct{})
		for i, l := range listeners {
			go l.Run(ctx, func(it Item[int]) {
				heard[i] = append(heard[i], it.Event.Kind)
				<-ended
			})
		}
		synctest.Wait()
		h.Event(Event{Kind: AlarmCleared})
		end()
		close(ended)
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
