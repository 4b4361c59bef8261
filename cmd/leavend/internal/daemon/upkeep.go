package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/cmd/leavend/internal/text"
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
	stats := d.Store.Stats()
	says := event.AlarmText{
		Say: text.Say("alarm.storage.failing"), Detail: fmt.Sprintf("%v; %d wait", stats.Failure, stats.Buffered), Over: text.Say("alarm.storage.over"),
	}
	removed := d.Store.Removed()
	if removed {
		says.Say, says.Detail = text.Say("alarm.storage.removed"), d.Store.Path()
	}
	d.setAlarm(now, event.StorageFailing, "writing", removed || stats.Failed > 0, says)
}

// setAlarm raises an alarm of the daemon's own, or clears it.
func (d *Daemon) setAlarm(now time.Time, reason event.Reason, part string, wrong bool, says event.AlarmText) {
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: reason, Part: part}
	if wrong {
		d.Alarms.Raise(now, key, says)
	} else {
		d.Alarms.Clear(now, key)
	}
}

// backupHour is when the nightly backup is made: bakers sleep then, most of them.
const backupHour = 3

// backUpNightly writes a backup each night. One that failed is tried again every
// quarter of an hour, and the baker hears of it.
func (d *Daemon) backUpNightly(ctx context.Context) error {
	var done string
	d.Clock.Every(ctx, 15*time.Minute, func(now time.Time) {
		now = now.In(d.Conf.Timezone)
		if day := now.Format(time.DateOnly); now.Hour() < backupHour || day == done {
			return
		}
		file, err := d.Store.Copies.BackupDay(ctx, d.Conf.Store.BackupDir, now, store.BackupOpts{Keep: d.Conf.Store.BackupsKept, Small: !d.Conf.Store.BackupWhole})
		if err == nil {
			done = now.Format(time.DateOnly)
			d.Log.Info("backup written", "file", file)
		}
		if err == nil || ctx.Err() == nil {
			d.setAlarm(now, event.StorageFailing, "backup", err != nil, event.AlarmText{
				Say: text.Say("alarm.storage.backup"), Detail: fmt.Sprintf("store.backup_dir: %v", err), Over: text.Say("alarm.storage.backup_over"),
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
	s := d.client.Stats()
	if s.Since.IsZero() {
		s.Since = d.startedReal // there has been no connection yet
	}
	says := event.AlarmText{Say: text.Say("alarm.broker.away"), Detail: s.Trouble, Over: text.Say("alarm.broker.over")}
	if s.NoLogin {
		says.Say = text.Say("alarm.broker.login")
	}
	away := s.NoLogin || time.Since(s.Since) > brokerAwayFor
	if s.Connected || away {
		d.setAlarm(now, event.BrokerUnreached, "", !s.Connected, says)
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

// historySize is how large the history is, and the room left on its disk, in bytes;
// 0 where that cannot be told.
func historySize(path string) (size, free int64) {
	if info, err := os.Stat(path); err == nil {
		size = info.Size()
	}
	free, _ = dbfile.FreeIn(filepath.Dir(path))
	return size, free
}
