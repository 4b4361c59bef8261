package sim

import (
	"math"
	"time"
)

// Feed is one feeding within a recording.
type Feed struct {
	At     time.Duration // when the jar stands under the sensor again, counted from the start
	Ratio  Ratio         // default 1:2:2
	FillML float64       // dough in the jar afterwards; default as the feed before, 220 at first
	WaterC float64       // temperature of the dough after mixing; default 2 °C above the room
	Away   time.Duration // for how long the jar was away before At
	Late   time.Duration // how much later than At the baker says that it was fed
	Silent bool          // the baker never says so
	OffMM  float64       // how much nearer to the sensor the jar stands than at first
	PaceBy float64       // this feed's pace against the starter's own; default 1
	HoldBy float64       // this feed's hold against the starter's own; default 1
}

// RecordOpts says what a recording is to hold. The zero value of each field
// stands for the default named beside it.
type RecordOpts struct {
	Name   string        // default empty
	Family string        // the kind of curve, copied into the truth
	Case   string        // the kind of trouble, copied into the truth
	Seed   uint64        // decides every chance
	Start  time.Time     // default 2027-03-01 07:00 UTC, an invented day
	Every  time.Duration // between two rows; default 15 s
	Length time.Duration // default 22 h

	Vessel  Vessel
	Starter StarterOpts
	Feeds   []Feed // default one feed 1:2:2 at the start
	Events  []Event
	Ranger  RangerOpts
	Settled int // feeds of the first one's ratio, a day apart at 22 °C, that the starter had before; default 0

	Plant     PlantOpts // room, mat and vessel; ContentsKg follows the feeds when left zero
	SetpointC float64   // the mat holds this by plain hysteresis; default 0, no mat
	ProbeOffC float64   // the probe's own error, within ±0.5

	Enough time.Duration // stop this long after the last feed left its top; 0 runs the whole length
}

func (o RecordOpts) withDefaults() RecordOpts {
	if o.Start.IsZero() {
		o.Start = time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC)
	}
	if o.Every <= 0 {
		o.Every = 15 * time.Second
	}
	if o.Length <= 0 {
		o.Length = 22 * time.Hour
	}
	o.Vessel = o.Vessel.withDefaults()
	o.Feeds = defaultFeeds(o.Feeds)
	o.Plant.Seed = o.Seed
	if o.Plant.ContentsKg == 0 {
		o.Plant.ContentsKg = o.Feeds[0].FillML * doughKgPerML
	}
	if o.Plant.Room.StartHour == 0 {
		o.Plant.Room.StartHour = float64(o.Start.Hour()) + float64(o.Start.Minute())/60
	}
	return o
}

// doughKgPerML is the density of dough without gas (common practice).
const doughKgPerML = 0.0011

// Row is one row of a recording. A NaN is a reading that did not come.
type Row struct {
	At         time.Time     // what the wall clock said
	Elapsed    time.Duration // what a steady clock says, from the start
	DistanceMM float64
	TempC      float64
	Fed        bool   // the baker says: fed
	Status     string // the ranger's word
	MatOn      bool
}

// Recording is what a daemon would have written down, and what was true.
type Recording struct {
	Name  string
	Rows  []Row
	Truth Truth
	Opts  RecordOpts // how it was made, defaults filled in

	temps []float64 // of the contents, every tick
}

// Record simulates a recording. The same options give the same recording.
func Record(o RecordOpts) *Recording {
	r := newRecorder(o.withDefaults())
	n := int(r.o.Length/r.o.Every) + 1
	r.out.Rows = make([]Row, 0, n)
	r.out.Truth.HeightMM = make([]float64, 0, n)
	r.out.temps = make([]float64, 0, n)
	for i := range n {
		if r.tick(time.Duration(i) * r.o.Every); r.settled() {
			break
		}
	}
	r.out.judge()
	return r.out
}

// stamp is what the wall clock says at a moment: clock steps up to then count.
func (o *RecordOpts) stamp(now time.Duration) time.Time {
	t := o.Start.Add(now)
	for _, e := range o.Events {
		if e.Kind == ClockStep && e.At <= now {
			t = t.Add(time.Duration(e.Amount * float64(time.Second)))
		}
	}
	return t
}

// judge works out the truth once the simulation is over.
func (r *Recording) judge() {
	t := &r.Truth
	for i := range t.Feeds {
		end := len(t.HeightMM)
		if i+1 < len(t.Feeds) {
			end = int(t.Feeds[i+1].FedAfter / t.Every)
		}
		f := FeedTruth{FedAfter: t.Feeds[i].FedAfter, Marked: t.Feeds[i].Marked}
		f.judge(t.HeightMM, r.temps, end, t.Every, r.Opts.stamp)
		f.Abrupt = t.abrupt(&f)
		t.Feeds[i] = f
	}
}

// Heights returns the distance readings turned into heights above the
// vessel's bottom by the nominal place of the sensor; NaN stays NaN.
func (r *Recording) Heights() []float64 {
	out := make([]float64, len(r.Rows))
	for i, row := range r.Rows {
		out[i] = r.Opts.Vessel.SensorMM - row.DistanceMM
		if math.IsNaN(row.DistanceMM) {
			out[i] = math.NaN()
		}
	}
	return out
}

// Cut ends the recording at the given time after its start and works the
// truth out again: a peak that was not recorded is none. A top whose fall is cut off is
// none.
func (r *Recording) Cut(end time.Duration) {
	t := &r.Truth
	n := min(len(t.HeightMM), int(end/t.Every)+1)
	t.HeightMM, r.temps = t.HeightMM[:n], r.temps[:n]
	for len(r.Rows) > 0 && r.Rows[len(r.Rows)-1].Elapsed > end {
		r.Rows = r.Rows[:len(r.Rows)-1]
	}
	for len(t.Feeds) > 0 && int(t.Feeds[len(t.Feeds)-1].FedAfter/t.Every) >= n {
		t.Feeds = t.Feeds[:len(t.Feeds)-1]
	}
	for len(t.Disturbances) > 0 && t.Disturbances[len(t.Disturbances)-1].At > end {
		t.Disturbances = t.Disturbances[:len(t.Disturbances)-1]
	}
	r.judge()
}
