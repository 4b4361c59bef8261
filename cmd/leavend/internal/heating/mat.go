package heating

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/sensor"
)

// Mat is the mat as the daemon keeps it: the mat under control, and which
// sensors it hears.
type Mat struct {
	*control.Mat
	conf         config.Mat
	config       *config.Config           // whose units people are shown
	Vessel       string                   // slug of the vessel on the mat; "" if none
	Places       map[string]control.Place // by sensor name
	lastReadings map[string]*time.Time    // by sensor name: the time of the last reading handed on; only the sensor's own goroutine touches what it points to
}

// TickEvery is how often the guard looks by itself: a third of a lease or more
// often.
func (w *Mat) TickEvery() time.Duration { return min(2*time.Second, w.conf.Lease/3) }

// NewMat puts a mat with an output under control. It starts off. Save, if
// not nil, gets what must outlive the process.
func NewMat(conf *config.Config, out control.Output, save func(control.Snapshot)) (*Mat, error) {
	m := conf.Mat
	w := &Mat{conf: m, config: conf, Places: map[string]control.Place{}, lastReadings: map[string]*time.Time{}}
	for _, v := range conf.Vessels {
		if v.Name == m.Vessel {
			w.Vessel = v.Slug
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
		w.Places[p.name] = p.place
		w.lastReadings[p.name] = new(time.Time)
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
		Plain: !m.Anticipate, Schedule: schedule(m.Schedule), Location: conf.Timezone, MatW: m.Watts, VesselKg: m.LoadKg, Save: save,
	})
	if err != nil {
		return nil, err
	}
	w.Mat = mat
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

// Temperature hands a sensor's reading to the thermostat, if the mat depends
// on it. A reading that was handed on before is none: a number that merely
// stays on a topic must grow stale.
func (w *Mat) Temperature(now time.Time, name string, tempC float64, at time.Time) {
	place, ours := w.Places[name]
	if !ours || at.Equal(*w.lastReadings[name]) {
		return
	}
	*w.lastReadings[name] = at
	w.Mat.Temperature(now, name, place, tempC)
}

// Failed hands on that a sensor could not be read.
func (w *Mat) Failed(now time.Time, name string, err error) {
	if _, ours := w.Places[name]; ours {
		w.Mat.Failed(now, name, err)
	}
}

// AskSetpoint changes the setpoint within the limits of the config, whoever
// asks.
func (w *Mat) AskSetpoint(now time.Time, c float64) error {
	if !(c >= w.conf.SetpointMinC && c <= w.conf.SetpointMaxC) {
		return w.outside(c)
	}
	return w.SetSetpoint(now, c)
}

// Follow has the mat follow a schedule within the limits of the config.
func (w *Mat) Follow(now time.Time, slots []config.Slot) error {
	for _, s := range slots {
		if !s.Rest && !(s.SetpointC >= w.conf.SetpointMinC && s.SetpointC <= w.conf.SetpointMaxC) {
			return w.outside(s.SetpointC)
		}
	}
	return w.SetSchedule(now, schedule(slots))
}

func (w *Mat) outside(c float64) error {
	return fmt.Errorf("setpoint %s is outside %s to %s, the limits in the config", w.config.Degrees(c), w.config.Degrees(w.conf.SetpointMinC), w.config.Degrees(w.conf.SetpointMaxC))
}

// Recall gives the mat back what it knew. A memory that cannot be read, or that
// was lost, may have held a fault or the baker's own off: the mat then stays off
// until somebody allows it. It stays off too until a person has accepted the
// cautions, and where one has switched it off by hand.
func (w *Mat) Recall(now time.Time, m *Memory, away time.Duration, forgot bool, log *slog.Logger) {
	w.Restore(m.Kept, away)
	if m.Setpoint != 0 && w.AskSetpoint(now, m.Setpoint) != nil {
		m.Setpoint = 0 // the config's limits have changed since
	}
	if m.Schedule != nil && w.Follow(now, m.Schedule) != nil {
		m.Schedule = nil
	}
	if forgot || !m.MayHeat() {
		m.Mode = control.Off
	}
	if err := w.SetMode(now, cmp.Or(m.Mode, control.Hold)); err != nil {
		log.Error("the mat's mode cannot be restored", "mode", m.Mode, "err", err)
	}
}

// ErrNoMat is the answer to whoever asks for a mat that is not there.
var ErrNoMat = text.Fail("cli.mat.none")

// ReadProbes reads every probe that has a cutoff once.
func (w *Mat) ReadProbes(ctx context.Context, conf *config.Config, open hardware.Opener) error {
	for name, place := range w.Places {
		s, ok := conf.Sensor(name)
		if !ok || place == control.AtRoom {
			continue
		}
		wires, err := open(s)
		if err != nil {
			return text.Fail("cli.acknowledge.blind", text.Cause("err", err))
		}
		for _, wire := range wires {
			if wire.Quantity != sensor.Temperature {
				continue
			}
			values, errs := hardware.ReadSome(ctx, wire.Source, 1)
			if len(values) == 0 {
				return text.Fail("cli.acknowledge.blind", text.Cause("err", errors.Join(errs...)))
			}
			w.Mat.Temperature(time.Now(), name, place, values[0])
		}
	}
	return nil
}
