package sim

import (
	"math"
	"time"

	"leavend/sensor"
)

// recorder is a recording in the making.
type recorder struct {
	*place
	o       RecordOpts
	out     *Recording
	matOn   bool
	spilled bool
	top     float64 // greatest height of this feed
	onTop   int     // last tick near it
}

func newRecorder(o RecordOpts) *recorder {
	r := &recorder{
		o:   o,
		out: &Recording{Name: o.Name, Opts: o},
		place: newPlace(placeOpts{
			seed: o.Seed, vessel: o.Vessel, starter: o.Starter, ranger: o.Ranger, plant: o.Plant,
			feeds: o.Feeds, events: o.Events, probeOffC: o.ProbeOffC,
		}),
	}
	for range o.Settled {
		r.starter.Feed(o.Feeds[0].Ratio)
		r.starter.Step(24*time.Hour, 22)
	}
	r.out.Truth = Truth{Family: o.Family, Case: o.Case, Seed: o.Seed, Start: o.Start, Every: o.Every}
	return r
}

// tick is one moment of the recording: time passes, things happen, the
// sensors are read, a row is written.
func (r *recorder) tick(now time.Duration) {
	since := time.Duration(0)
	if now > 0 {
		since = r.o.Every
	}
	r.pass(since, r.matOn)
	for _, e := range r.happen(now) {
		r.note(e)
	}
	if f, ok := r.feedDue(now); ok {
		r.top = 0
		r.out.Truth.Feeds = append(r.out.Truth.Feeds, FeedTruth{FedAfter: now, Marked: !f.Silent})
	}
	r.noteOverflow(now)
	mm, status := r.look(since)
	temp := r.probes[sensor.AtVessel].measure(r.plant.ProbeC(sensor.AtVessel))
	r.thermostat()
	r.out.Truth.HeightMM = append(r.out.Truth.HeightMM, r.heightMM)
	r.out.temps = append(r.out.temps, r.plant.ContentsC())
	if _, off := r.doing(DaemonOff); off {
		return
	}
	r.out.Rows = append(r.out.Rows, Row{
		At: r.o.stamp(now), Elapsed: now, DistanceMM: mm, TempC: temp, Status: status, MatOn: r.matOn, Fed: r.pressed(now),
	})
}

// settled reports whether the last feed has left its top for so long that the
// recording may end, although a later rise might still come.
func (r *recorder) settled() bool {
	if r.o.Enough == 0 {
		return false
	}
	h := r.out.Truth.HeightMM
	last := len(h) - 1
	if r.top = math.Max(r.top, h[last]); h[last] >= r.top-1 {
		r.onTop = last
	}
	return r.feeds.done() && r.top-r.heightMM > 4 && time.Duration(last-r.onTop)*r.o.Every > r.o.Enough
}

// thermostat is plain hysteresis on the probe, for recordings only.
func (r *recorder) thermostat() {
	if r.o.SetpointC == 0 || r.away {
		r.matOn = false
		return
	}
	switch c := r.plant.ProbeC(sensor.AtVessel); {
	case c < r.o.SetpointC-0.25:
		r.matOn = true
	case c > r.o.SetpointC+0.25:
		r.matOn = false
	}
}

// note writes an event down in the truth.
func (r *recorder) note(e Event) {
	r.out.Truth.Disturbances = append(r.out.Truth.Disturbances, Disturbance{
		Event: e, From: r.o.stamp(e.At), To: r.o.stamp(e.At + e.For),
	})
}

// noteOverflow writes down when the starter runs over the rim, once a feed.
func (r *recorder) noteOverflow(now time.Duration) {
	if r.runsOver && !r.spilled {
		r.note(Event{Kind: Overflowing, At: now})
	}
	r.spilled = r.spilled && r.heightMM > 0.8*r.o.Vessel.RimMM || r.runsOver
}
