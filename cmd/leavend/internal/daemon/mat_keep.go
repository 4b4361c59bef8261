package daemon

import (
	"context"
	"errors"
	"path/filepath"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/control"
)

// MemoryName is the runtime folder's copy of what is known of the mat.
const MemoryName = "mat-memory.json"

// recallMat gives the mat back what it knew, or tells that this is lost.
// Agreed is whether the mat is invented, so that nobody need accept anything.
func (d *Daemon) recallMat(ctx context.Context, agreed bool) {
	m, away, forgot := d.keeper.Recall(ctx, d.Store, d.lossy)
	if d.Warm == nil {
		return
	}
	now := d.Clock.Now()
	if agreed && m.Accepted.IsZero() {
		m.Accepted = now
	}
	m.Held = m.Held || heating.Held(d.holdFolders()...)
	d.Warm.Recall(now, &m, away, forgot, d.Log)
	if err := d.remember(ctx, func(k *heating.Memory) { *k = m }); err != nil {
		d.Log.Debug("it was told that the mat's memory cannot be stored", "err", err)
	}
	if forgot {
		d.Alarms.Raise(now, matForgot, event.AlarmText{
			Text: "What was known of the mat is lost: a fault may have kept it off, or you. It stays off until you allow it again.",
			Over: "The mat may heat again.",
		})
		return
	}
	d.tellWaits(now)
}

// holdFolders are where the word may stand that the mat is to stay off.
func (d *Daemon) holdFolders() []string {
	return []string{filepath.Dir(d.noteFile), d.Conf.DataDir}
}

// The alarms of a mat whose memory is lost, whose cautions nobody has accepted,
// and that somebody switched off by hand. They are over when a person allows it
// to heat.
var (
	matForgot   = event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "mat"}
	matUnread   = event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.MatNotAllowed, Part: "cautions"}
	matHeld     = event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.MatNotAllowed, Part: "held"}
	matHeatsNot = []event.AlarmKey{matForgot, matUnread, matHeld}
)

// waitsFor says which word of a person the mat waits for; "" for none.
func waitsFor(m heating.Memory) string {
	switch {
	case m.Accepted.IsZero():
		return "The mat stays off until you have read its cautions and accepted them: on the page, or with 'sudo leavend mat allow'."
	case m.Held:
		return "The mat was switched off with 'leavend mat off'. It stays off until you allow it on the page, or with 'sudo leavend mat allow'."
	}
	return ""
}

// tellWaits tells that the mat waits for a person.
func (d *Daemon) tellWaits(now time.Time) {
	m := d.keeper.Memory()
	key := matHeld
	if m.Accepted.IsZero() {
		key = matUnread
	}
	if text := waitsFor(m); text != "" {
		d.Alarms.Raise(now, key, event.AlarmText{Text: text, Over: "The mat may heat."})
	}
}

// errCautions says that nobody has accepted the cautions.
var errCautions = errors.New("nobody has accepted the cautions yet")

// allow lets the mat heat, for a person who asks and who has accepted the
// cautions, now or before.
func (d *Daemon) allow(ctx context.Context, accepted bool) error {
	if d.Warm == nil {
		return heating.ErrNoMat
	}
	if !accepted && d.keeper.Memory().Accepted.IsZero() {
		return errCautions
	}
	if err := heating.LiftHold(d.holdFolders()...); err != nil {
		return err
	}
	now := d.Clock.Now()
	if err := d.Warm.SetMode(now, control.Hold); err != nil {
		return err
	}
	return d.remember(ctx, func(m *heating.Memory) {
		m.Mode, m.Held = control.Hold, false
		if m.Accepted.IsZero() {
			m.Accepted = now
		}
	})
}

// accepted notes that a person has accepted the cautions while setting the mat
// up, before the daemon starts again with it.
func (d *Daemon) accepted(ctx context.Context) error {
	now := d.Clock.Now()
	return d.remember(ctx, func(m *heating.Memory) {
		if m.Accepted.IsZero() {
			m.Accepted, m.Mode = now, control.Hold
		}
	})
}

// remember changes what is known of the mat, on the disk before it returns.
func (d *Daemon) remember(ctx context.Context, change func(*heating.Memory)) error {
	return d.keeper.Change(ctx, change)
}

// keepMat keeps what is known of the mat where that has changed. What its
// control wants kept has come to the keeper by itself.
func (d *Daemon) keepMat(ctx context.Context) {
	if d.Warm == nil {
		return
	}
	mode, energy := d.Warm.State().Mode, d.meter.Kept()
	// Trouble is told by the keeper, and the next round, a second from now,
	// tries again.
	_ = d.keeper.Change(ctx, func(m *heating.Memory) {
		// No more energy than on-time: what is missing is counted after a start.
		if energy == nil || m.Energy == nil || energy.On <= m.Kept.Life.On {
			m.Energy = energy
		}
		m.Mode = mode
	})
}

// keepMatLast keeps all that is known of the mat at the end.
func (d *Daemon) keepMatLast(ctx context.Context) {
	if d.Warm == nil {
		return
	}
	d.keeper.Saved(d.Warm.Snapshot())
	d.keepMat(ctx)
	_ = d.keeper.Flush(ctx) // told by the keeper
}
