package daemon

import (
	"fmt"
	"os"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/heating"
)

// SetSchedule writes another schedule for the mat into the config file, keeps
// everything else there as it is, and follows it at once. Whatever is wrong
// with it changes nothing, neither in the file nor in the mat. The error of a
// file that is unsound, or of slots that are, is a *config.Error.
func (d *Daemon) SetSchedule(now time.Time, slots []config.Slot) error {
	if d.Warm == nil {
		return heating.ErrNoMat
	}
	d.fileMu.Lock()
	defer d.fileMu.Unlock()
	before, err := os.ReadFile(d.Conf.File)
	if err != nil {
		return fmt.Errorf("the config file cannot be read: %w", err)
	}
	after, err := config.EditSchedule(before, d.Conf.File, slots)
	if err != nil {
		return err
	}
	old := d.Warm.Slots()
	if err := d.Warm.Adopt(now, slots); err != nil {
		return err
	}
	if err := config.Save(d.Conf.File, after); err != nil {
		if back := d.Warm.Adopt(now, old); back != nil {
			d.Log.Error("the schedule could not be put back", "err", back)
		}
		return fmt.Errorf("the config file cannot be written, so nothing was changed: %w; see that leavend's user may write its folder", err)
	}
	return nil
}
