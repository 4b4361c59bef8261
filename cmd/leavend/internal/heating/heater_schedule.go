package heating

import (
	"fmt"
	"os"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// SetSchedule writes another schedule for the mat into the config file, keeps
// everything else there as it is, and follows it at once. Whatever is wrong
// with it changes nothing, neither in the file nor in the mat. The error of a
// file that is unsound, or of slots that are, is a *config.Error.
func (h *Heater) SetSchedule(now time.Time, slots []config.Slot) error {
	if h.Mat == nil {
		return ErrNoMat
	}
	h.fileMu.Lock()
	defer h.fileMu.Unlock()
	before, err := os.ReadFile(h.conf.File)
	if err != nil {
		return fmt.Errorf("the config file cannot be read: %w", err)
	}
	after, err := config.EditSchedule(before, h.conf.File, slots)
	if err != nil {
		return err
	}
	old := h.Mat.Slots()
	if err := h.Mat.Adopt(now, slots); err != nil {
		return err
	}
	if err := config.Save(h.conf.File, after); err != nil {
		if back := h.Mat.Adopt(now, old); back != nil {
			h.log.Error("the schedule could not be put back", "err", back)
		}
		return fmt.Errorf("the config file cannot be written, so nothing was changed: %w; see that leavend's user may write its folder", err)
	}
	return nil
}
