package replay

import (
	"fmt"
	"io"
	"math"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
)

// story prints events for a person, each on a line that starts with its time.
type story struct {
	out      io.Writer
	bowl     bool
	day      string
	outlook  time.Time // the last forecast that was told
	forecast bool
	called   bool // the running feed has had its call
}

// tell prints one event. A forecast is told once and then only when it moves
// by more than half an hour, since a person does not want them all.
func (s *story) tell(e peak.Event) {
	line := ""
	switch e.Kind {
	case peak.EventFed:
		s.forecast, s.called = false, false
		line = "fed"
		if e.Source == "found" {
			line = fmt.Sprintf("fed at %s, found in the curve", e.FeedAt.Format("15:04"))
		}
	case peak.EventForecast:
		if s.forecast && e.PeakAt.Sub(s.outlook).Abs() < 30*time.Minute {
			return
		}
		s.forecast, s.outlook = true, e.PeakAt
		line = fmt.Sprintf("%s expected at %s (%s to %s)", s.goal(), e.PeakAt.Format("15:04"), e.Low.Format("15:04"), e.High.Format("15:04"))
	case peak.EventPeak:
		s.called = true
		line = fmt.Sprintf("PEAK: the top was at %s, %s", e.PeakAt.Format("15:04"), rise(e))
	case peak.EventTarget:
		s.called = true
		line = fmt.Sprintf("TARGET: %s", rise(e))
	case peak.EventCollapse:
		line = fmt.Sprintf("collapsed: half of the rise is gone, %s left", rise(e))
	case peak.EventFolded:
		line = "folded; the level says nothing until the surface is even again"
	case peak.EventFault:
		line = "fault: " + e.Fault.String()
	}
	if day := e.At.Format("Mon 2 Jan 2006"); day != s.day {
		fmt.Fprintln(s.out, day)
		s.day = day
	}
	fmt.Fprintf(s.out, "  %s  %s\n", e.At.Format("15:04"), line)
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

// whyNoCall says why the running feed ends without a call.
func whyNoCall(st peak.Status, rows int, opts peak.Opts) text.Message {
	switch {
	case st.Stage == peak.Lost:
		return text.Say("replay.no_call.lost")
	case 2*st.Refused.Missing > rows:
		return text.Say("replay.no_call.missing", text.Number("missing", float64(st.Refused.Missing)), text.Number("rows", float64(rows)))
	case waits[st.WhyNoForecast] != "":
		return text.Say(waits[st.WhyNoForecast], text.Number("rise", st.RiseMM))
	case opts.Kind == peak.Bowl:
		return text.Say("replay.no_call.below", text.Number("ratio", st.RiseRatio))
	case st.SpeedMMH >= risingMMH:
		return text.Say("replay.no_call.rising", text.Number("speed", st.SpeedMMH))
	case st.Wanders():
		return text.Say("replay.no_call.wander", text.Number("wander", st.WanderMM))
	}
	return text.Say("replay.no_call.unsure")
}

// risingMMH is a speed that a reader would call rising: a usual starter passes it
// until a quarter of an hour before its peak.
const risingMMH = 0.5

// waits are the sentences of what keeps a forecast away, and with it a call.
var waits = map[peak.Reason]string{
	peak.FewReadings:  "replay.no_call.few_readings",
	peak.LittleRise:   "replay.no_call.little_rise",
	peak.TooCold:      "replay.no_call.cold",
	peak.FloorUnknown: "replay.no_call.no_floor",
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
	if !s.called {
		fmt.Fprintf(s.out, "         %s\n", whyNoCall(st, r.n, r.opts).In(text.Reader{}))
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
