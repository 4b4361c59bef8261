package peak

import "time"

// historyCap is how many past feeds are used.
const historyCap = 12

// Feed is what is worth keeping of a feed that is over, small enough for one
// row of a store. It is JSON-able as it is.
type Feed struct {
	At        time.Time `json:"at"`
	PeakAt    time.Time `json:"peak_at"`
	WarmHours float64   `json:"warm_hours"` // feed to peak in hours at 25 °C
	MeanTempC float64   `json:"mean_temp_c"`
	RiseMM    float64   `json:"rise_mm"`
	RiseRatio float64   `json:"rise_ratio,omitempty"` // 0 where the floor is not known
}

// History returns the past feeds that the detector uses, oldest first: those
// it was given and those it has seen to their end.
func (d *Detector) History() []Feed { return d.opts.History }

// Record returns what is known of the running feed for the history; false
// before its top is called.
func (d *Detector) Record() (Feed, bool) {
	if !d.feed.called {
		return Feed{}, false
	}
	c := d.feed.call
	return Feed{At: c.FeedAt, PeakAt: c.PeakAt, RiseMM: c.RiseMM}, true
}

// remember puts the running feed into the history when it ends.
func (d *Detector) remember() {
	f, ok := d.Record()
	if !ok {
		return
	}
	h := d.opts.History
	if len(h) == historyCap {
		copy(h, h[1:])
		h = h[:historyCap-1]
	}
	d.opts.History = append(h, f)
}
