package heating

import (
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// slots are the mat's schedule as it stands now; the config's is what it was
// at the start.
type slots struct {
	mu  sync.Mutex // guards now
	now []config.Slot
}

// Slots returns the schedule that holds now.
func (w *Mat) Slots() []config.Slot {
	w.slots.mu.Lock()
	defer w.slots.mu.Unlock()
	return slices.Clone(w.slots.now)
}

// Adopt has the thermostat follow other slots from now on.
func (w *Mat) Adopt(now time.Time, slots []config.Slot) error {
	if err := w.SetSchedule(now, schedule(slots)); err != nil {
		return err
	}
	w.slots.mu.Lock()
	defer w.slots.mu.Unlock()
	w.slots.now = slices.Clone(slots)
	return nil
}
