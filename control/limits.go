package control

import (
	"fmt"
	"math"
	"time"
)

// Probe names a probe the mat relies on.
type Probe struct {
	Name  string
	Place Place
}

// maxProbes bounds the guard's state. No kitchen needs more on one mat.
const maxProbes = 8

// SetpointMarginC is how far a setpoint must stay below every cutoff, °C.
const SetpointMarginC = 2

// Opts are the settings of a mat. A zero field takes its default. The
// defaults marked "guess" are the author's judgement for mats of 8 to 40 W
// under 0.2 to 3 kg, checked against the simulated kitchens of the tests.
type Opts struct {
	SetpointC   float64 // vessel temperature to hold; default 25
	HysteresisC float64 // half width of the band, °C; default 0.3 (0.1 to 3)

	// VesselCutoffC and MatCutoffC latch the mat off. Defaults 35 and 45,
	// at most 45 and 60: dough dies above the first (common practice), and
	// unregulated mats reach about 40 °C at the surface.
	VesselCutoffC, MatCutoffC float64

	Probes []Probe // probes that must all report before the first on; others are added when they first report

	Stale             time.Duration // oldest reading that may heat; default 2 min
	Lease             time.Duration // longest permission; default 60 s
	MinOff            time.Duration // shortest pause, for the relay and the mat; default 2 min
	OnSwitchesPerHour int           // default 6
	MaxOn             time.Duration // longest continuous on; default 4 h (guess)
	Rest              time.Duration // pause after MaxOn; default 20 min (guess), at least MinOff
	MaxDuty           float64       // greatest on-share of 24 h; default 0.9
	GoodReadings      int           // good readings in a row before an on; default 3

	// GainTime is the on-time after which a probe that did not answer to the
	// heat makes the mat pause for a look of at most Look. If it does not
	// answer then either, the mat rests for DoubtRest, and twice as long each
	// time that a trial of heat goes without an answer. Defaults 30 min,
	// 30 min, 1 h and a Trial of 15 min (guesses, checked on 200 plants).
	GainTime, Look, DoubtRest, Trial time.Duration

	// A vessel that stays above StuckC for StuckAfter although the mat is told
	// off says that the switch is stuck. Defaults 30 °C, which no kitchen keeps
	// for long, and 3 h (guesses).
	StuckC     float64
	StuckAfter time.Duration

	// DisagreeC is how far two probes of one place may differ. Default 3 °C.
	DisagreeC float64

	// MaxSlopeC bounds how fast a believable temperature moves, °C per
	// second, beyond a step of 1 °C. Default 0.2.
	MaxSlopeC float64

	// Plain turns anticipation off: plain hysteresis, for comparison and for
	// those who want it.
	Plain bool

	// Schedule changes the setpoint by the time of day and by the stage.
	Schedule Schedule

	// Location is whose time of day the schedule goes by; default time.Local.
	Location *time.Location

	// MatW is the mat's power and VesselKg the weight of the lightest contents
	// it is used with; 0 where it is not given. See Promise.
	MatW, VesselKg float64

	// Save, if set, gets a snapshot as soon as something changed that must
	// outlive the process, and each minute while the mat is on. It is called
	// under the mat's lock, in the last moment of a panic too: it must return
	// within milliseconds and call no method of the mat.
	Save func(Snapshot)
}

// withDefaults returns o with every zero field set.
func (o Opts) withDefaults() Opts {
	setF := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	setD := func(p *time.Duration, v time.Duration) {
		if *p == 0 {
			*p = v
		}
	}
	setI := func(p *int, v int) {
		if *p == 0 {
			*p = v
		}
	}
	setF(&o.SetpointC, 25)
	setF(&o.HysteresisC, 0.3)
	setF(&o.VesselCutoffC, promisedC)
	setF(&o.MatCutoffC, 45)
	setD(&o.Stale, 2*time.Minute)
	setD(&o.Lease, time.Minute)
	setD(&o.MinOff, 2*time.Minute)
	setI(&o.OnSwitchesPerHour, 6)
	setD(&o.MaxOn, 4*time.Hour)
	setD(&o.Rest, max(20*time.Minute, o.MinOff))
	setF(&o.MaxDuty, 0.9)
	setI(&o.GoodReadings, 3)
	const half = halfHour * time.Minute
	setD(&o.GainTime, half)
	setD(&o.Look, half)
	setD(&o.DoubtRest, 2*half)
	setD(&o.Trial, half/2)
	setF(&o.StuckC, 30)
	setD(&o.StuckAfter, 6*half)
	setF(&o.DisagreeC, 3)
	setF(&o.MaxSlopeC, 0.2)
	if o.Location == nil {
		o.Location = time.Local
	}
	return o
}

// bound is one setting with the range it must lie in.
type bound struct {
	name          string
	value, lo, hi float64
	unit          string
}

// check returns an error that names the first setting out of its range.
func (o Opts) check() error {
	sec := func(d time.Duration) float64 { return d.Seconds() }
	for _, b := range []bound{
		{"hysteresis_c", o.HysteresisC, 0.1, 3, "°C"},
		{"vessel_cutoff_c", o.VesselCutoffC, 15, 45, "°C"},
		{"mat_cutoff_c", o.MatCutoffC, 20, 60, "°C"},
		{"stale", sec(o.Stale), 2, 900, "s"},
		{"lease", sec(o.Lease), 1, 600, "s"},
		{"min_off", sec(o.MinOff), 10, 7200, "s"},
		{"on_switches_per_hour", float64(o.OnSwitchesPerHour), 1, 60, ""},
		{"max_on", sec(o.MaxOn), 60, 24 * 3600, "s"},
		{"rest", sec(o.Rest), sec(o.MinOff), 24 * 3600, "s"},
		{"max_duty", o.MaxDuty, 0.05, 1, ""},
		{"good_readings", float64(o.GoodReadings), 1, 100, ""},
		{"gain_time", sec(o.GainTime), 300, 24 * 3600, "s"},
		{"look", sec(o.Look), 60, 4 * 3600, "s"},
		{"doubt_rest", sec(o.DoubtRest), 60, 24 * 3600, "s"},
		{"trial", sec(o.Trial), 60, 4 * 3600, "s"},
		{"stuck_c", o.StuckC, 10, 60, "°C"},
		{"stuck_after", sec(o.StuckAfter), 60, 24 * 3600, "s"},
		{"disagree_c", o.DisagreeC, 0.5, 20, "°C"},
		{"max_slope_c", o.MaxSlopeC, 0.01, 5, "°C/s"},
		{"watts", o.MatW, 0, 200, "W"},
		{"vessel_kg", o.VesselKg, 0, 20, "kg"},
	} {
		if math.IsNaN(b.value) || b.value < b.lo || b.value > b.hi {
			return fmt.Errorf("mat.%s: %g is outside %g to %g %s", b.name, b.value, b.lo, b.hi, b.unit)
		}
	}
	return o.checkProbes()
}

// checkProbes checks the names and places of the probes relied on.
func (o Opts) checkProbes() error {
	seen := make(map[string]bool)
	for _, p := range o.Probes {
		switch {
		case p.Name == "" || seen[p.Name]:
			return fmt.Errorf("mat.probes: the name %q is empty or used twice", p.Name)
		case !p.Place.Valid():
			return fmt.Errorf("mat.probes: %s has place %q; it must be vessel, mat or room", p.Name, p.Place)
		}
		seen[p.Name] = true
	}
	if len(o.Probes) > maxProbes {
		return fmt.Errorf("mat.probes: %d are too many; %d is the most", len(o.Probes), maxProbes)
	}
	return nil
}

// checkSetpoint applies rule 2: no setpoint within the margin of a cutoff.
func (o Opts) checkSetpoint(c float64) error {
	top := o.topSetpoint()
	if math.IsNaN(c) || c < 5 || c > top {
		return fmt.Errorf("mat.setpoint_c: %g is outside 5 to %g (2 °C below the lower cutoff)", c, top)
	}
	return nil
}

// topSetpoint is the highest setpoint the cutoffs leave room for.
func (o Opts) topSetpoint() float64 {
	return min(o.VesselCutoffC, o.MatCutoffC) - SetpointMarginC
}
