package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sys/unix"

	"leavend/cmd/leavend/internal/event"
)

// upkeep looks after what changes slowly: what is known of the mat, the disk,
// the broker.
func (d *daemon) upkeep(ctx context.Context) error {
	next := d.clock.Now()
	hour := next.Add(time.Hour)
	d.clock.Every(ctx, time.Second, func(now time.Time) {
		// A fault that latched must be on the disk before anything can end us.
		d.keepMat(ctx)
		if now.Before(next) {
			return
		}
		next = now.Add(10 * time.Second)
		d.watchStore(now)
		d.watchBroker(now)
		d.watchSwitch(ctx, now)
		if !now.Before(hour) {
			hour = now.Add(time.Hour)
			d.keepMeter(ctx)
		}
	})
	return nil
}

// watchStore tells when readings can no longer be kept, and when they can.
func (d *daemon) watchStore(now time.Time) {
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "writing"}
	if s := d.store.Stats(); s.Failed > 0 {
		d.alarms.Raise(now, key, event.AlarmText{
			Text:   "Readings cannot be stored; they wait in memory. Make room on the disk, or run 'leavend check'.",
			Detail: fmt.Sprintf("%v; %d wait", s.Failure, s.Buffered), Over: "Readings are stored again.",
		})
		return
	}
	d.alarms.Clear(now, key)
}

// backupHour is when the nightly backup is made: bakers sleep then, most of them.
const backupHour = 3

// backUpNightly writes a backup each night. One that failed is tried again every
// quarter of an hour, and the baker hears of it.
func (d *daemon) backUpNightly(ctx context.Context) error {
	var done string
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "backup"}
	d.clock.Every(ctx, 15*time.Minute, func(now time.Time) {
		now = now.In(d.conf.Timezone)
		if day := now.Format(time.DateOnly); now.Hour() < backupHour || day == done {
			return
		}
		file, err := d.store.BackupDay(ctx, d.conf.Store.BackupDir, now, d.conf.Store.BackupsKept)
		switch {
		case err == nil:
			done = now.Format(time.DateOnly)
			d.alarms.Clear(now, key)
			d.log.Info("backup written", "file", file)
		case ctx.Err() == nil:
			d.alarms.Raise(now, key, event.AlarmText{
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
func (d *daemon) watchBroker(now time.Time) {
	if d.client == nil {
		return
	}
	key := event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.BrokerUnreached}
	s := d.client.Stats()
	if s.Since.IsZero() {
		s.Since = d.began // there has been no connection yet
	}
	switch {
	case s.Connected:
		d.alarms.Clear(now, key)
	case time.Since(s.Since) > brokerAwayFor:
		d.alarms.Raise(now, key, event.AlarmText{
			Text:   "There is no connection to the MQTT broker; events wait. See that it runs, and that the network is there.",
			Detail: s.Trouble, Over: "The MQTT broker is reached again.",
		})
	}
}

// logChange writes to the log what changes: events, and the mat's switching.
func (d *daemon) logChange(it item) {
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
	d.log.Log(context.Background(), level, e.Text, args...)
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
