package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sys/unix"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
)

// upkeep looks after what changes slowly: what is known of the mat, the disk,
// the broker.
func (d *Daemon) upkeep(ctx context.Context) error {
	next := d.Clock.Now()
	hour := next.Add(time.Hour)
	d.Clock.Every(ctx, time.Second, func(now time.Time) {
		// A fault that latched must be on the disk before anything can end us.
		d.heat.Save(ctx)
		d.watchStore(now)
		if now.Before(next) {
			return
		}
		next = now.Add(10 * time.Second)
		d.watchBroker(now)
		d.watchAccess(now)
		if d.messages != nil {
			d.heat.Worn(ctx, d.messages.SwitchWorn)
		}
		if !now.Before(hour) {
			hour = now.Add(time.Hour)
			d.heat.SaveEnergy(ctx)
		}
	})
	return nil
}

// watchStore tells when readings can no longer be kept, and when they can.
func (d *Daemon) watchStore(now time.Time) {
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "writing"}
	if d.Store.Removed() {
		d.Alarms.Raise(now, key, event.AlarmText{
			Text:   "The file of the history was removed while leavend runs. Nothing can be stored; readings wait in memory. Put it back, or restart leavend.",
			Detail: d.Store.Path(), Over: "Readings are stored again.",
		})
		return
	}
	if s := d.Store.Stats(); s.Failed > 0 {
		d.Alarms.Raise(now, key, event.AlarmText{
			Text:   "Readings cannot be stored; they wait in memory. Make room on the disk, or run 'leavend check'.",
			Detail: fmt.Sprintf("%v; %d wait", s.Failure, s.Buffered), Over: "Readings are stored again.",
		})
		return
	}
	d.Alarms.Clear(now, key)
}

// backupHour is when the nightly backup is made: bakers sleep then, most of them.
const backupHour = 3

// backUpNightly writes a backup each night. One that failed is tried again every
// quarter of an hour, and the baker hears of it.
func (d *Daemon) backUpNightly(ctx context.Context) error {
	var done string
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "backup"}
	d.Clock.Every(ctx, 15*time.Minute, func(now time.Time) {
		now = now.In(d.Conf.Timezone)
		if day := now.Format(time.DateOnly); now.Hour() < backupHour || day == done {
			return
		}
		file, err := d.Store.BackupDay(ctx, d.Conf.Store.BackupDir, now, store.BackupOpts{Keep: d.Conf.Store.BackupsKept, Small: !d.Conf.Store.BackupWhole})
		switch {
		case err == nil:
			done = now.Format(time.DateOnly)
			d.Alarms.Clear(now, key)
			d.Log.Info("backup written", "file", file)
		case ctx.Err() == nil:
			d.Alarms.Raise(now, key, event.AlarmText{
				Text:   "The nightly backup could not be written. See that its disk is plugged in and has room.",
				Detail: fmt.Sprintf("store.backup_dir: %v", err), Over: "The nightly backup is written again.",
			})
		}
	})
	return nil
}

// brokerAwayFor is how long the broker may be away before the baker hears.
const brokerAwayFor = time.Minute

// watchBroker tells when there has been no connection to the broker for a
// while.
func (d *Daemon) watchBroker(now time.Time) {
	if d.client == nil {
		return
	}
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.BrokerUnreached}
	s := d.client.Stats()
	if s.Since.IsZero() {
		s.Since = d.startedReal // there has been no connection yet
	}
	switch {
	case s.Connected:
		d.Alarms.Clear(now, key)
	case s.NoLogin:
		d.Alarms.Raise(now, key, event.AlarmText{
			Text:   "A file that the login at the MQTT broker needs cannot be read; events wait. Run 'leavend check', which says what to do.",
			Detail: s.Trouble, Over: "The MQTT broker is reached again.",
		})
	case time.Since(s.Since) > brokerAwayFor:
		d.Alarms.Raise(now, key, event.AlarmText{
			Text:   "There is no connection to the MQTT broker; events wait. See that it runs, and that the network is there.",
			Detail: s.Trouble, Over: "The MQTT broker is reached again.",
		})
	}
}

// logChange writes to the log what changes: events, and the mat's switching.
func (d *Daemon) logChange(it monitor.Item) {
	if it.Event == nil || it.Event.Kind == event.Forecast {
		return
	}
	e := *it.Event
	level := slog.LevelInfo
	if e.Kind == event.AlarmRaised {
		level = slog.LevelWarn
	}
	args := []any{"kind", e.Kind, "subject", e.Subject}
	if e.Detail != "" {
		args = append(args, "detail", e.Detail)
	}
	d.Log.Log(context.Background(), level, e.Text, args...)
}

// fileSize is the size of a file in bytes, 0 when it cannot be told.
func fileSize(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

// freeBytes is the room left on the disk that path lies on.
func freeBytes(path string) int64 {
	var s unix.Statfs_t
	if err := unix.Statfs(filepath.Dir(path), &s); err != nil {
		return 0
	}
	return int64(s.Bavail) * int64(s.Bsize)
}
