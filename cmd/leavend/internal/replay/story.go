package replay

import (
	"fmt"
	"io"
	"math"
	"time"

	"leavend/peak"
)

// story prints events for a person, each on a line that starts with its time.
type story struct {
	out      io.Writer
	bowl     bool
	day      string
	outlook  time.Time // the last forecast that was told
	forecast bool
}

// tell prints one event. A forecast is told once and then only when it moves
// by more than half an hour, since a person does not want them all.
func (s *story) tell(e peak.Event) {
	text := ""
	switch e.Kind {
	case peak.EventFed:
		s.forecast = false
		text = "fed"
		if e.Source == "found" {
			text = fmt.Sprintf("fed at %s, found in the curve", e.FeedAt.Format("15:04"))
		}
	case peak.EventForecast:
		if s.forecast && e.PeakAt.Sub(s.outlook).Abs() < 30*time.Minute {
			return
		}
		s.forecast, s.outlook = true, e.PeakAt
		text = fmt.Sprintf("%s expected at %s (%s to %s)", s.goal(), e.PeakAt.Format("15:04"), e.Low.Format("15:04"), e.High.Format("15:04"))
	case peak.EventPeak:
		text = fmt.Sprintf("PEAK: the top was at %s, %s", e.PeakAt.Format("15:04"), rise(e))
	case peak.EventTarget:
		text = fmt.Sprintf("TARGET: %s", rise(e))
	case peak.EventCollapse:
		text = fmt.Sprintf("collapsed: half of the rise is gone, %s left", rise(e))
	case peak.EventFolded:
		text = "folded; the level says nothing until the surface is even again"
	case peak.EventFault:
		text = "fault: " + e.Fault.String()
	}
	if day := e.At.Format("Mon 2 Jan 2006"); day != s.day {
		fmt.Fprintln(s.out, day)
		s.day = day
	}
	fmt.Fprintf(s.out, "  %s  %s\n", e.At.Format("15:04"), text)
}

func (s *story) goal() string {
	if s.bowl {
		return "target"
	}
	return "peak"
}

// rise puts a rise in words.
func rise(e peak.Event) string {
	if math.IsNaN(e.RiseRatio) || e.RiseRatio == 0 {
		return fmt.Sprintf("%.0f mm above the feed", e.RiseMM)
	}
	return fmt.Sprintf("%.2f times the height at the feed (%.0f mm)", e.RiseRatio, e.RiseMM)
}

// waits says what a forecast waits for.
var waits = map[peak.Reason]string{
	peak.FewReadings:  "too few readings since the feed",
	peak.LittleRise:   "it has not risen enough",
	peak.TooCold:      "too cold to tell; it goes on when it is warm again",
	peak.FloorUnknown: "the vessel's floor is not known, so there is no ratio; calibrate it",
	peak.NoGrounds:    "the curve has no grounds for one yet",
}

// end says where the recording leaves the vessel.
func (s *story) end(r *player) {
	if r.n == 0 {
		fmt.Fprintln(s.out, "the recording holds no rows")
		return
	}
	st := r.detector.Status()
	fmt.Fprintf(s.out, "  %s  end of the recording: %d rows over %s, stage %s\n",
		r.last.Format("15:04"), r.n, hours(r.last.Sub(r.first)), st.Stage)
	if why := waits[st.WhyNoForecast]; why != "" {
		fmt.Fprintf(s.out, "         no forecast: %s\n", why)
	}
	x := st.Refused
	if n := x.Missing + x.Bad + x.Late + x.Spike + x.Away; n > 0 || r.bad > 0 {
		fmt.Fprintf(s.out, "         not used: %d missing, %d spikes, %d while away, %d late, %d bad rows\n",
			x.Missing, x.Spike, x.Away, x.Late+x.Bad, r.bad)
	}
}

// hours prints a duration as 22 h 05 min.
func hours(d time.Duration) string {
	m := int(d.Round(time.Minute).Minutes())
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}
