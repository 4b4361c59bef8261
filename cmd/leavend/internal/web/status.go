package web

import (
	"math"
	"strconv"
	"time"

	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
)

// stageWords are the stages in the words of the HTTP API.
var stageWords = map[monitor.Stage]Stage{
	monitor.Waiting: Unfed, monitor.Lag: Settling, monitor.Rising: Rising, monitor.AtPeak: OnTop, monitor.Falling: Falling,
	monitor.Collapsed: Falling, monitor.AtTarget: OnTarget, monitor.Over: Over, monitor.Past: Past, monitor.InFridge: Asleep, monitor.Unsure: Unsure,
}

// VesselOf is a vessel's status as the page shows it to a reader.
func VesselOf(s monitor.Status, reader text.Reader) Vessel {
	out := Vessel{
		ID: s.ID, Name: s.Name, Kind: Kind(s.Kind), Stage: stageWords[s.Stage],
		Height: measureOf(s.Height), Temp: measureOf(s.Temp),
		FedHeightMM: realOf(s.FedHeightMM), InsideMM: Real(s.InsideMM), TargetRatio: realOf(s.TargetRatio),
		StaleAfterS: int(s.StaleAfter.Seconds()), BestUntil: timeOf(s.BestUntil), NoTemp: s.NoThermometer,
		Collapse: timeOf(s.FellAt), FridgeSince: timeOf(s.FridgeSince), RefusedHour: s.RefusedHour,
		NoteSay: s.Why, Note: s.Why.In(reader),
	}
	if s.Alarm != nil {
		out.NoteSay, out.Note = s.Alarm.Say, s.Alarm.Say.In(reader)
	}
	if s.FedHeightMM != nil { // the page says "its height when fed"
		out.Ratio = measureOf(s.Ratio)
	}
	if f := s.Feed; f != nil {
		out.Feed = &FeedMark{At: f.At, Found: f.Found, UndoUntil: timeOf(f.UndoUntil)}
		if f.ID != 0 {
			out.Feed.ID = strconv.FormatInt(f.ID, 10)
		}
	}
	if f := s.Forecast; f != nil {
		out.Forecast = &Forecast{MadeAt: f.MadeAt, TopAt: f.At, LowAt: f.Low, HighAt: f.High, Ratio: realOf(f.Ratio), Source: string(f.Source)}
	}
	if c := s.Call; c != nil {
		out.Top = &Top{CalledAt: c.MadeAt, TopAt: c.At, Ratio: realOf(c.Ratio)}
	}
	if u := s.Used; u != nil {
		out.Used = &Used{How: string(u.How), At: u.At}
		if until := u.At.Add(monitor.UndoFor); s.At.Before(until) {
			out.Used.UndoUntil = until
		}
	}
	if s.Refused != nil {
		last := RefusedOf(*s.Refused, reader)
		out.Refused = &last
	}
	return out
}

// FanOf is the course that a forecast expects, as the page draws it.
func FanOf(course []monitor.FanPoint) []FanRow {
	rows := make([]FanRow, 0, len(course))
	for _, p := range course {
		rows = append(rows, FanRow{At: p.At, Low: Real(p.Low), Mid: Real(p.Mid), High: Real(p.High)})
	}
	return rows
}

// RefusedOf is a reading that was not believed, as the page shows it.
func RefusedOf(r monitor.Refusal, reader text.Reader) Refused {
	why := text.Say("outliers.why." + r.Why)
	return Refused{At: r.At, What: "distance", Value: Real(r.Value), Unit: "mm", Why: why.In(reader), WhySay: why}
}

func measureOf(m *monitor.Measure) *Measure {
	if m == nil {
		return nil
	}
	return &Measure{Value: Real(m.Value), At: m.At}
}

func realOf(v *float64) Real {
	if v == nil {
		return Real(math.NaN())
	}
	return Real(*v)
}

func timeOf(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return *t
}
