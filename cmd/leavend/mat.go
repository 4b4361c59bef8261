package main

import (
	"cmp"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"strconv"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/control"
	"leavend/control/line"
	"leavend/control/plug"
)

// warmth is the mat as the house keeps it: the mat under control, and which
// sensors it hears.
type warmth struct {
	*control.Mat
	conf   config.Mat
	house  *config.Config           // whose units people are shown
	slots  slots                    // the schedule as it is now
	vessel string                   // slug of the vessel on the mat; "" if none
	places map[string]control.Place // by sensor name
	heard  map[string]*time.Time    // by sensor name: the time of the last reading handed on; only the sensor's own goroutine touches what it points to
}

// matTick is how often the guard looks by itself: a third of a lease or more
// often.
func (w *warmth) tick() time.Duration { return min(2*time.Second, w.conf.Lease/3) }

// newWarmth puts a mat with an output under control. It starts off. Save, if
// not nil, gets what must outlive the process.
func newWarmth(conf *config.Config, out control.Output, save func(control.Snapshot)) (*warmth, error) {
	m := conf.Mat
	w := &warmth{conf: m, house: conf, places: map[string]control.Place{}, heard: map[string]*time.Time{}}
	for _, v := range conf.Vessels {
		if v.Name == m.Vessel {
			w.vessel = v.Slug
		}
	}
	var probes []control.Probe
	for _, p := range []struct {
		name  string
		place control.Place
	}{{m.Probe, control.AtVessel}, {m.SecondProbe, control.AtVessel}, {m.MatProbe, control.AtMat}, {m.RoomProbe, control.AtRoom}} {
		if p.name == "" {
			continue
		}
		w.places[p.name] = p.place
		w.heard[p.name] = new(time.Time)
		if p.place != control.AtRoom { // no heat depends on the room's probe
			probes = append(probes, control.Probe{Name: p.name, Place: p.place})
		}
	}
	mat, err := control.New(out, control.Opts{
		SetpointC: m.SetpointC, HysteresisC: m.HysteresisC,
		VesselCutoffC: m.CutoffVesselC, MatCutoffC: m.CutoffMatC,
		Probes: probes, Stale: m.StaleAfter, Lease: m.Lease, MinOff: m.MinOff,
		OnSwitchesPerHour: m.SwitchesPerHour, MaxOn: m.MaxOn, Rest: m.Rest, MaxDuty: m.MaxDuty,
		GoodReadings: m.StartReadings, DisagreeC: m.DisagreeC, GainTime: m.GainWithin,
		Plain: !m.Anticipate, Schedule: schedule(m.Schedule), Location: conf.Timezone, Save: save,
	})
	if err != nil {
		return nil, err
	}
	w.Mat, w.slots.now = mat, m.Schedule
	return w, nil
}

// schedule turns the config's slots into the thermostat's, whose words for
// the stages are the same.
func schedule(slots []config.Slot) control.Schedule {
	var s control.Schedule
	for _, slot := range slots {
		c := control.Slot{
			Stage:     control.Stage(slot.Stage),
			From:      time.Duration(slot.From) * time.Minute,
			To:        time.Duration(slot.To) * time.Minute,
			SetpointC: slot.SetpointC,
		}
		if slot.Rest {
			c.SetpointC = 0
		}
		for _, d := range slot.Days {
			c.Days = append(c.Days, d.Weekday())
		}
		s = append(s, c)
	}
	return s
}

// openOutput opens whatever switches the mat, and leaves the note by which
// `leavend mat off` finds it. The line is opened before anything else of the
// daemon: see OpenLine.
func openOutput(conf *config.Config, note string, client func() *mqtt.Client) (control.Output, error) {
	n, err := noteOf(conf)
	if err != nil {
		return nil, err
	}
	if err := heating.WriteNote(note, n); err != nil && !n.None {
		return nil, err // without a mat the note only spares a question
	}
	switch {
	case n.Line != nil:
		pin, err := hardware.OpenLine(n.Line.Chip, n.Line.Line)
		if err != nil {
			return nil, err
		}
		return line.New(pin)
	case n.Plug != nil:
		return openPlug(conf, client)
	}
	return nil, nil
}

// noteOf is the note of what the config says switches the mat.
func noteOf(conf *config.Config) (n heating.Note, err error) {
	if n.DataDir, err = filepath.Abs(conf.DataDir); err != nil {
		return n, err
	}
	switch conf.Mat.Output {
	case config.GPIO:
		n.Line = lineOf(conf.Mat)
	case config.Plug:
		n.Plug, err = plugOf(conf)
	case config.NoOutput:
		n.None = true
	default:
		err = fmt.Errorf("mat.output: %s needs the simulated kitchen; use 'leavend demo'", conf.Mat.Output)
	}
	return n, err
}

// lineOf is the mat's GPIO line; nil where it has none.
func lineOf(m config.Mat) *heating.Line {
	if m.Output != config.GPIO {
		return nil
	}
	chip := m.Line.Chip
	if chip != "" && !filepath.IsAbs(chip) {
		chip = "/dev/" + chip
	}
	return &heating.Line{Chip: chip, Line: strconv.Itoa(m.Line.Number)}
}

// plugOf is how the mat's plug is reached and spoken to.
func plugOf(conf *config.Config) (*heating.Plug, error) {
	recipe, err := heating.Recipe(conf.Mat.Plug)
	if err != nil {
		return nil, err
	}
	password, err := conf.MQTT.Password.Reveal()
	if err != nil {
		return nil, err
	}
	m, c := conf.MQTT, conf.Mat.Plug
	p := &heating.Plug{
		User: m.User, Password: password, CAFile: m.CAFile, CertFile: m.CertFile, KeyFile: m.KeyFile,
		Off: recipe.Off(), Echo: c.EchoDeadline, Lease: conf.Mat.Lease,
	}
	if c.Recipe == config.Custom {
		custom := heating.CustomRecipe(c)
		p.Custom = &custom
	} else {
		p.Kind, p.Topic, p.Relay = string(c.Recipe), c.Topic, c.Relay
	}
	if m.URL != "" {
		p.Broker, err = mqtt.Address(m.URL)
	}
	return p, err
}

// openPlug makes a plug's output. Its client is asked for when it is first
// used, since it is made later.
func openPlug(conf *config.Config, client func() *mqtt.Client) (*plug.Dev, error) {
	recipe, err := heating.Recipe(conf.Mat.Plug)
	if err != nil {
		return nil, err
	}
	// By the end of its lease the plug has let go by itself, whatever it was told.
	return plug.New(recipe, courier{client}, plug.Opts{EchoWithin: conf.Mat.Plug.EchoDeadline, StartsWithin: conf.Mat.Lease + conf.Mat.Plug.EchoDeadline})
}

// courier carries a plug's commands to the client, at once or not at all.
type courier struct{ client func() *mqtt.Client }

// Command hands one command to the network, or says why not.
func (c courier) Command(topic, payload string) error {
	if cl := c.client(); cl != nil {
		return cl.Command(topic, payload)
	}
	return mqtt.ErrNotConnected
}

// Connected reports whether a command could go out now.
func (c courier) Connected() bool {
	cl := c.client()
	return cl != nil && cl.Connected()
}

// Temperature hands a sensor's reading to the thermostat, if the mat depends
// on it. A reading that was handed on before is none: a number that merely
// stays on a topic must grow stale.
func (w *warmth) Temperature(now time.Time, name string, tempC float64, at time.Time) {
	place, ours := w.places[name]
	if !ours || at.Equal(*w.heard[name]) {
		return
	}
	*w.heard[name] = at
	w.Mat.Temperature(now, name, place, tempC)
}

// Failed hands on that a sensor could not be read.
func (w *warmth) Failed(now time.Time, name string, err error) {
	if _, ours := w.places[name]; ours {
		w.Mat.Failed(now, name, err)
	}
}

// AskSetpoint changes the setpoint within the limits of the config, whoever
// asks.
func (w *warmth) AskSetpoint(now time.Time, c float64) error {
	if !(c >= w.conf.SetpointMinC && c <= w.conf.SetpointMaxC) {
		return fmt.Errorf("setpoint %s is outside %s to %s, the limits in the config", w.house.Degrees(c), w.house.Degrees(w.conf.SetpointMinC), w.house.Degrees(w.conf.SetpointMaxC))
	}
	return w.SetSetpoint(now, c)
}

// recall gives the mat back what it knew. A memory that cannot be read, or that
// was lost, may have held a fault or the baker's own off: the mat then stays off
// until somebody allows it. It stays off too until a person has accepted the
// cautions, and where one has switched it off by hand.
func (w *warmth) recall(now time.Time, m *heating.Memory, away time.Duration, forgot bool, log *slog.Logger) {
	w.Restore(m.Kept, away)
	if m.Setpoint != 0 && w.AskSetpoint(now, m.Setpoint) != nil {
		m.Setpoint = 0 // the config's limits have changed since
	}
	if forgot || !m.MayHeat() {
		m.Mode = control.Off
	}
	if err := w.SetMode(now, cmp.Or(m.Mode, control.Hold)); err != nil {
		log.Error("the mat's mode cannot be restored", "mode", m.Mode, "err", err)
	}
}

// errNoMat is the answer to whoever asks for a mat that is not there.
var errNoMat = errors.New("there is no mat here; set mat.output in the config")
