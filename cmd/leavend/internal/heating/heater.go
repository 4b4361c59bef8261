package heating

import (
	"context"
	"errors"
	"path/filepath"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/sensor"

	"log/slog"
)

// MemoryName is the name of the runtime folder's copy of what is known of the mat.
const MemoryName = "mat-memory.json"

// Heater is the mat with what belongs to it beyond its control: what is known of
// it over restarts, who allows it, its energy, and its alarms.
type Heater struct {
	*Keeper
	Mat           *Mat   // nil without a mat
	Meter         *Meter // nil without a mat
	Switched      SwitchTimes
	Output        control.Output // what switches it; nil without a mat
	OnAcknowledge func()         // told that somebody has acknowledged a fault; may be nil

	conf   *config.Config
	folder string // the runtime folder
	clock  *event.Clock
	log    *slog.Logger
	alarms *event.Alarms
	store  Store // nil before Recall
}

// NewHeater returns a heater whose output, and mat, are set by whoever opens them.
// Folder is the runtime folder, where `leavend mat off` looks.
func NewHeater(conf *config.Config, folder string, clock *event.Clock, alarms *event.Alarms, log *slog.Logger) *Heater {
	return &Heater{Keeper: NewKeeper(filepath.Join(folder, MemoryName), log), conf: conf, folder: folder, clock: clock, alarms: alarms, log: log}
}

// Recall gives the mat back what it knew, or raises an alarm that this is lost.
// Agreed is whether the mat is invented, so that its cautions need not be accepted;
// lost whether the history is.
func (h *Heater) Recall(ctx context.Context, from Store, agreed, lost bool) {
	h.store = from
	m, away, forgot := h.Keeper.Recall(ctx, from, lost)
	if h.Mat == nil {
		return
	}
	now := h.clock.Now()
	if agreed && m.Accepted.IsZero() {
		m.Accepted = now
	}
	m.Held = m.Held || Held(h.holdFolders()...)
	h.Mat.Recall(now, &m, away, forgot, h.log)
	if err := h.Change(ctx, func(k *Memory) { *k = m }); err != nil {
		h.log.Debug("the keeper has logged that the mat's memory cannot be stored", "err", err)
	}
	if forgot {
		h.alarms.Raise(now, alarmForgot, event.AlarmText{
			Say: text.Say("alarm.mat.forgot"), Over: text.Say("alarm.mat.over"),
		})
	} else {
		h.raiseWaits(now)
	}
	h.Meter = OpenMeter(ctx, h.conf.Mat.Watts, h.Mat.State().OnTotal, h.Memory().Energy, now, from, h.log)
}

// holdFolders are where a file may stand that says that the mat is to stay off.
func (h *Heater) holdFolders() []string { return []string{h.folder, h.conf.DataDir} }

// The alarms of a mat whose memory is lost, whose cautions are not accepted,
// and that somebody switched off by hand. They are over when a person allows it
// to heat.
var (
	alarmForgot   = event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "mat"}
	AlarmCautions = event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.MatNotAllowed, Part: "cautions"} // of a mat whose cautions are not accepted
	alarmHeld     = event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.MatNotAllowed, Part: "held"}
)

// WaitsFor says what a person must do before the mat may heat; zero for nothing.
func (m Memory) WaitsFor() text.Message {
	switch {
	case m.Accepted.IsZero():
		return text.Say("alarm.mat.cautions")
	case m.Held:
		return text.Say("alarm.mat.held")
	}
	return text.Message{}
}

// raiseWaits raises the alarm that the mat waits for a person, if it does.
func (h *Heater) raiseWaits(now time.Time) {
	m := h.Memory()
	key := alarmHeld
	if m.Accepted.IsZero() {
		key = AlarmCautions
	}
	if say := m.WaitsFor(); !say.IsZero() {
		h.alarms.Raise(now, key, event.AlarmText{Say: say, Over: text.Say("alarm.mat.over")})
	}
}

// ErrCautions says that the cautions are not accepted yet.
var ErrCautions = text.Fail("cli.mat.unread")

// Allow lets the mat heat, for a person who asks and who has accepted the
// cautions, now or before.
func (h *Heater) Allow(ctx context.Context, accepted bool) error {
	if h.Mat == nil {
		return ErrNoMat
	}
	if !accepted && h.Memory().Accepted.IsZero() {
		return ErrCautions
	}
	if err := LiftHold(h.holdFolders()...); err != nil {
		return err
	}
	now := h.clock.Now()
	if err := h.Mat.SetMode(now, control.Hold); err != nil {
		return err
	}
	return h.Change(ctx, func(m *Memory) {
		m.Mode, m.Held = control.Hold, false
		if m.Accepted.IsZero() {
			m.Accepted = now
		}
	})
}

// Accept notes that a person has accepted the cautions while setting the mat up,
// before the daemon starts again with it.
func (h *Heater) Accept(ctx context.Context) error {
	now := h.clock.Now()
	return h.Change(ctx, func(m *Memory) {
		if m.Accepted.IsZero() {
			m.Accepted, m.Mode = now, control.Hold
		}
	})
}

// Forbid switches the mat off until it is allowed or asked for again.
func (h *Heater) Forbid(ctx context.Context) error {
	if h.Mat == nil {
		return ErrNoMat
	}
	if err := h.Mat.SetMode(h.clock.Now(), control.Off); err != nil {
		return err
	}
	return h.Change(ctx, func(m *Memory) { m.Mode = control.Off })
}

// Resume lets the mat heat for a program that asks: it may undo its own off, and
// never that of a person.
func (h *Heater) Resume() error {
	if h.Mat == nil {
		return ErrNoMat
	}
	if m := h.Memory(); !m.MayHeat() {
		return &text.Error{Say: m.WaitsFor()}
	}
	return h.Mat.SetMode(h.clock.Now(), control.Hold)
}

// Pause switches the mat off for a program that asks. The next Save keeps that, so
// that a full disk is no reason to answer that it failed.
func (h *Heater) Pause() error {
	if h.Mat == nil {
		return ErrNoMat
	}
	return h.Mat.SetMode(h.clock.Now(), control.Off)
}

// SetSetpoint changes the setpoint within the limits of the config, and keeps it.
func (h *Heater) SetSetpoint(ctx context.Context, c float64) error {
	if h.Mat == nil {
		return ErrNoMat
	}
	if err := h.Mat.AskSetpoint(h.clock.Now(), c); err != nil {
		return err
	}
	return h.Change(ctx, func(m *Memory) { m.Setpoint = c })
}

// Setpoint is what the baker set, or else what the config says.
func (h *Heater) Setpoint() float64 {
	if c := h.Memory().Setpoint; c != 0 {
		return c
	}
	return h.conf.Mat.SetpointC
}

// SetSchedule has the mat follow a schedule, and keeps it; nil is that of the
// config.
func (h *Heater) SetSchedule(ctx context.Context, slots []config.Slot) error {
	if h.Mat == nil {
		return ErrNoMat
	}
	follow := slots
	if slots == nil {
		follow = h.conf.Mat.Schedule
	}
	if err := h.Mat.Follow(h.clock.Now(), follow); err != nil {
		return err
	}
	return h.Change(ctx, func(m *Memory) { m.Schedule = slots })
}

// Schedule is what the baker set, or else what the config says.
func (h *Heater) Schedule() (slots []config.Slot, own bool) {
	if s := h.Memory().Schedule; s != nil {
		return s, true
	}
	return h.conf.Mat.Schedule, false
}

// Holds returns what the mat holds a vessel at, and whether it does.
func (h *Heater) Holds(slug string) (celsius float64, ok bool) {
	if h.Mat == nil || h.Mat.Vessel != slug {
		return 0, false
	}
	s := h.Mat.State()
	return s.SetpointC, s.Mode == control.Hold
}

// PlaceOf is where a thermometer sits: as the mat takes it, or as the config says.
func (h *Heater) PlaceOf(s config.Sensor) sensor.Place {
	if h.Mat != nil {
		if at, ours := h.Mat.Places[s.Name]; ours {
			return sensor.Place(at)
		}
	}
	return s.Place
}

// Needs reports whether the mat relies on a channel of a sensor.
func (h *Heater) Needs(w hardware.Channel) bool {
	if h.Mat == nil || w.Quantity != sensor.Temperature {
		return false
	}
	at, ours := h.Mat.Places[w.Sensor.Name]
	return ours && at != control.AtRoom
}

// Acknowledge clears the mat's latched faults, unless their cause still holds,
// and keeps that before it returns.
func (h *Heater) Acknowledge(ctx context.Context) error {
	if h.Mat == nil {
		return ErrNoMat
	}
	if err := h.Mat.Acknowledge(h.clock.Now()); err != nil {
		return err
	}
	if h.OnAcknowledge != nil {
		h.OnAcknowledge()
	}
	kept := h.Mat.Snapshot()
	if err := h.Change(ctx, func(m *Memory) { m.Kept = kept }); err != nil {
		return errors.New("the faults are acknowledged, but that could not be stored (" + err.Error() + "): after a restart of the board they are back")
	}
	return nil
}

// Note takes in how the mat is: when it switched, what it drew, and its faults,
// which are alarms as long as they stand.
func (h *Heater) Note(now time.Time, s control.State) {
	h.Switched.Note(now, s.On)
	h.Meter.Note(now, s.OnTotal)
	standing := map[string]bool{}
	for _, f := range s.Faults {
		standing[string(f.Kind)] = true
		h.alarms.Raise(now, event.AlarmKey{Subject: event.SubjectMat, Reason: event.Reason(f.Kind)}, FaultAlarm(f))
	}
	for _, f := range h.alarms.Of(event.SubjectMat) {
		if f.Key.Reason != event.NoReading && !standing[string(f.Key.Reason)] {
			h.alarms.Clear(now, f.Key)
		}
	}
	if s.Mode == control.Hold {
		for _, key := range []event.AlarmKey{alarmForgot, AlarmCautions, alarmHeld} {
			h.alarms.Clear(now, key)
		}
	}
}

// FaultAlarm is what a fault of the mat says as an alarm.
func FaultAlarm(f control.Fault) event.AlarmText {
	what, do := FaultText(f.Kind)
	return event.AlarmText{Say: text.Sentences(what, do), Detail: f.Detail, Over: text.Say("mat.fault." + key(string(f.Kind)) + ".over")}
}

// Save keeps what is known of the mat where that has changed. What its control
// wants kept has come to the keeper by itself.
func (h *Heater) Save(ctx context.Context) {
	if h.Mat == nil {
		return
	}
	mode, energy := h.Mat.State().Mode, h.Meter.Kept()
	// The keeper logs an error, and the next round, a second from now, tries again.
	_ = h.Change(ctx, func(m *Memory) {
		// No more energy than on-time: what is missing is counted after a start.
		if energy == nil || m.Energy == nil || energy.On <= m.Kept.Life.On {
			m.Energy = energy
		}
		m.Mode = mode
	})
}

// SaveLast keeps all that is known of the mat at the end.
func (h *Heater) SaveLast(ctx context.Context) {
	if h.Mat == nil {
		return
	}
	h.Saved(h.Mat.Snapshot())
	h.Save(ctx)
	_ = h.Flush(ctx) // the keeper logs an error
	h.SaveEnergy(ctx)
}

// SaveEnergy has the store remember what the mat drew in the last days.
func (h *Heater) SaveEnergy(ctx context.Context) {
	if h.Meter != nil {
		h.Meter.Save(ctx, h.store, h.log)
	}
}

// Worn reports once that the switch comes near the end of its life, for the
// times-th switch; known when tell has returned. It stops nothing: a part is to be
// bought.
func (h *Heater) Worn(ctx context.Context, tell func(switches, life, times int)) {
	if h.Mat == nil {
		return
	}
	life, n := h.conf.Mat.SwitchLife, h.Mat.State().OnSwitches
	told := h.Memory().Worn
	if told.Life != life {
		told = Worn{Life: life} // another part, or another figure of its maker's
	}
	times := WornTimes(n, life)
	if times <= told.Times {
		return
	}
	told.Times = times
	// Told before it is stored that it was, and known again by its count should
	// the daemon end in between.
	tell(int(n), life, times)
	if err := h.Change(ctx, func(m *Memory) { m.Worn = told }); err != nil {
		h.log.Error("that the mat's switch wears out was told could not be stored", "err", err)
	}
}
