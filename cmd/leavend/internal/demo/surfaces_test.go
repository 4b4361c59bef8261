package demo

import (
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// TestSurfacesAgree feeds one status after another to every surface and compares
// what they say: the stage, the time that is foretold or was called, the values,
// the feed and when the next is due.
func TestSurfacesAgree(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	// The page's and the demo's words of each stage; MQTT and the metrics have the
	// stage's own.
	words := map[monitor.Stage]struct{ page, line string }{
		monitor.Waiting: {"unfed", "not fed yet"}, monitor.Lag: {"settling", "settling in"},
		monitor.Rising: {"rising", "rising"}, monitor.AtPeak: {"top", "at its peak"},
		monitor.Falling: {"falling", "falling"}, monitor.Collapsed: {"falling", "fallen"},
		monitor.AtTarget: {"target", "risen enough"}, monitor.Over: {"over", "going over"},
		monitor.Past: {"past", "past its best"}, monitor.InFridge: {"asleep", "in the fridge"},
		monitor.Unsure: {"unsure", "unsure"},
	}
	ratio := 2.1
	foretold := &monitor.Forecast{MadeAt: now, At: now.Add(2 * time.Hour), Low: now.Add(time.Hour), High: now.Add(3 * time.Hour), Ratio: &ratio}
	call := &monitor.Call{MadeAt: now.Add(-time.Hour), At: now.Add(-70 * time.Minute), Ratio: &ratio}
	due := now.Add(20 * time.Hour)
	for _, kind := range []config.VesselKind{config.Jar, config.Bowl} {
		for _, stage := range monitor.Stages() {
			for name, change := range map[string]func(*monitor.Status){
				"nothing known": func(*monitor.Status) {},
				"foretold":      func(s *monitor.Status) { s.Forecast = foretold },
				"called":        func(s *monitor.Status) { s.Call = call },
				"measured": func(s *monitor.Status) {
					s.Height, s.Ratio = &monitor.Measure{Value: 120, At: now, Fresh: true}, &monitor.Measure{Value: 2, At: now, Fresh: true}
					s.Temp = &monitor.Measure{Value: 24.5, At: now, Fresh: true}
					s.FedHeightMM, s.Feed = new(60.0), &monitor.FeedStatus{At: now.Add(-4 * time.Hour), DueAt: &due}
				},
				"measured long ago": func(s *monitor.Status) { s.Temp = &monitor.Measure{Value: 24.5, At: now.Add(-time.Hour)} },
				"fed":               func(s *monitor.Status) { s.Feed = &monitor.FeedStatus{ID: 7, At: now.Add(-4 * time.Hour), DueAt: &due} },
			} {
				t.Run(string(kind)+" "+string(stage)+" "+name, func(t *testing.T) {
					s := monitor.Status{ID: "bramble", Name: "Bramble", Kind: kind, At: now, ReadAt: &now, Stage: stage, StaleAfter: time.Minute, Available: stage != monitor.Unsure}
					change(&s)
					line := words[stage].line
					if kind == config.Bowl && stage == monitor.Waiting {
						line = "no dough yet"
					}
					agree(t, s, words[stage].page, line)
				})
			}
		}
	}
}

// agree compares what the surfaces say of a status.
func agree(t *testing.T, s monitor.Status, pageWord, lineWord string) {
	t.Helper()
	page, out, numbers, line := web.VesselOf(s, text.Reader{}), mqtt.VesselOf(s), numbersOf(t, s), standing(s, text.Reader{})
	outlook, expects := notify.OutlookOf(s, false)
	if string(page.Stage) != pageWord || out.Stage != string(s.Stage) || numbers["leavend_stage "+string(s.Stage)] != 1 || !strings.Contains(line, lineWord) {
		t.Errorf("stage: page %q, MQTT %q, metrics %v, line %q", page.Stage, out.Stage, numbers, line)
	}
	if out.Available != s.Available || (numbers["leavend_vessel_available"] == 1) != s.Available {
		t.Errorf("available: MQTT %v, metrics %v, want %v", out.Available, numbers["leavend_vessel_available"], s.Available)
	}
	var peakAt, low, high time.Time // zero: nothing is said
	if s.Forecast != nil {
		peakAt, low, high = s.Forecast.At, s.Forecast.Low, s.Forecast.High
	}
	if page.Forecast != nil && !(page.Forecast.TopAt.Equal(peakAt) && page.Forecast.LowAt.Equal(low) && page.Forecast.HighAt.Equal(high)) || (page.Forecast != nil) != (s.Forecast != nil) {
		t.Errorf("forecast: page %+v", page.Forecast)
	}
	if !numbers.at("peak_forecast").Equal(peakAt) || !numbers.at("peak_forecast_low").Equal(low) || !numbers.at("peak_forecast_high").Equal(high) || !out.PeakLow.Equal(low) || !out.PeakHigh.Equal(high) {
		t.Errorf("forecast: metrics %v (%v to %v), MQTT (%v to %v)", numbers.at("peak_forecast"), numbers.at("peak_forecast_low"), numbers.at("peak_forecast_high"), out.PeakLow, out.PeakHigh)
	}
	if expects != (s.Forecast != nil) || expects && !outlook.At.Equal(peakAt) || strings.Contains(line, "about") != expects {
		t.Errorf("forecast: messages %v %v, line %q", expects, outlook.At, line)
	}
	var came time.Time
	if s.Call != nil {
		came = s.Call.At
	}
	if (page.Top != nil) != (s.Call != nil) || page.Top != nil && !page.Top.TopAt.Equal(came) || !numbers.at("peak").Equal(came) || s.Forecast == nil && !out.PeakAt.Equal(came) || s.Forecast != nil && !out.PeakAt.Equal(peakAt) {
		t.Errorf("peak: page %+v, metrics %v, MQTT %v", page.Top, numbers.at("peak"), out.PeakAt)
	}
	if known, fresh := s.Temp != nil, s.Temp != nil && s.Temp.Fresh; (page.Temp != nil) != known || (out.TemperatureC != nil) != fresh || numbers.has("leavend_vessel_temperature_celsius") != fresh || strings.Contains(line, "°C") != fresh {
		t.Errorf("temperature: page %+v, MQTT %v, metrics %v, line %q", page.Temp, out.TemperatureC, numbers, line)
	}
	if known := s.Ratio != nil; (page.Ratio != nil) != known || (out.RiseRatio != nil) != known || numbers.has("leavend_rise_ratio") != known || strings.Contains(line, "× ") != known {
		t.Errorf("ratio: page %+v, MQTT %v, metrics %v, line %q", page.Ratio, out.RiseRatio, numbers, line)
	}
	var fed, due time.Time
	if s.Feed != nil {
		fed, due = s.Feed.At, *s.Feed.DueAt
	}
	if !out.FedAt.Equal(fed) || !numbers.at("last_fed").Equal(fed) || !numbers.at("feed_due").Equal(due) || (page.Feed != nil) != (s.Feed != nil) {
		t.Errorf("feed: MQTT %v, metrics %v due %v, page %+v", out.FedAt, numbers.at("last_fed"), numbers.at("feed_due"), page.Feed)
	}
}

// numbers are the metrics of one vessel by name; a stage has its own after the name.
type numbers map[string]float64

// numbersOf are the metrics of a status.
func numbersOf(t *testing.T, s monitor.Status) numbers {
	t.Helper()
	var stages []string
	for _, stage := range monitor.Stages() {
		stages = append(stages, string(stage))
	}
	r := prometheus.NewPedanticRegistry()
	r.MustRegister(metrics.New(metrics.Opts{Stages: stages, Collect: func(p metrics.Page) { p.Vessel(s) }}))
	all, err := r.Gather()
	if err != nil {
		t.Fatal(err)
	}
	out := numbers{}
	for _, family := range all {
		for _, m := range family.GetMetric() {
			name := family.GetName()
			if name == "leavend_stage" {
				name += " " + m.GetLabel()[0].GetValue()
			}
			out[name] = m.GetGauge().GetValue()
		}
	}
	return out
}

func (n numbers) has(name string) bool { _, ok := n[name]; return ok }

// at is an instant; zero where it is not shown.
func (n numbers) at(name string) time.Time {
	v, ok := n["leavend_"+name+"_timestamp_seconds"]
	if !ok {
		return time.Time{}
	}
	return time.UnixMilli(int64(v * 1000))
}
