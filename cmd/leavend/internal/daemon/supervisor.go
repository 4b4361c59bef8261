package daemon

import (
	"context"
	"fmt"
	"time"

	systemd "github.com/coreos/go-systemd/v22/daemon"
)

// supervisor speaks to systemd, when it is there. Its watchdog is fed by the
// control loop alone, after a step that was sound: a ticker of its own would
// report health that was not checked.
type supervisor struct {
	every time.Duration // half the watchdog's time; 0 without a watchdog
	last  time.Time
}

// newSupervisor asks systemd how often it wants to hear of us.
func newSupervisor() *supervisor {
	limit, err := systemd.SdWatchdogEnabled(false)
	if err != nil {
		limit = 0
	}
	return &supervisor{every: limit / 2}
}

// Ready says that the daemon is up.
func (s *supervisor) Ready() { _, _ = systemd.SdNotify(false, systemd.SdNotifyReady) }

// ErrRestart is the cause of a context that ends so that the same process opens
// the daemon again. systemd is told nothing then: it would kill who says that
// they stop and does not end.
var ErrRestart = fmt.Errorf("starting again: %w", context.Canceled)

// Stopping says that the daemon is going down.
func (s *supervisor) Stopping() { _, _ = systemd.SdNotify(false, systemd.SdNotifyStopping) }

// Alive feeds the watchdog. It is called after every sound step of the control
// loop and passes on as many calls as systemd needs.
func (s *supervisor) Alive(now time.Time) {
	if s.every == 0 || now.Sub(s.last) < s.every/2 {
		return
	}
	s.last = now
	_, _ = systemd.SdNotify(false, systemd.SdNotifyWatchdog)
}
