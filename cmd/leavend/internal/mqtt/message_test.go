package mqtt

import (
	"bytes"
	"encoding/json"
	"math"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
	"leavend/peak"
)

// noon is the hour at which the invented kitchen of these tests stands.
var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.FixedZone("", 3600))

// bramble is an invented jar on its way up.
func bramble() Vessel {
	fresh := func(v float64) *monitor.Measure { return &monitor.Measure{Value: v, At: noon, Fresh: true} }
	due := noon.Add(20 * time.Hour)
	v := VesselOf(monitor.Status{
		ID: "bramble", ReadAt: &noon, Stage: "rising", Height: fresh(82.449), Rise: fresh(37.4), Ratio: fresh(1.83111),
		Temp: fresh(25.0625), Feed: &monitor.FeedStatus{At: noon.Add(-4 * time.Hour), DueAt: &due}, Available: true,
		Forecast: &monitor.Forecast{At: noon.Add(2 * time.Hour), Low: noon.Add(90 * time.Minute), High: noon.Add(160 * time.Minute)},
	})
	v.ReadyAt, v.ReadyTime = Time{noon.Add(3 * time.Hour)}, "15:00"
	return v
}

func warmMat() Mat {
	return Mat{
		ID: "mat", At: Time{noon}, On: true, Mode: ModeHeat, Action: "heating", Reason: "below the setpoint", SetpointC: new(26.0),
		TemperatureC: new(25.06), MatC: new(31.5), CutoffC: new(38.0),
		ReasonCode: "below-setpoint", EnergyKWh: new(1.2346), Switches: new(1234.0),
	}
}

func topEvent() event.Event {
	return event.Event{
		At: noon.Add(130 * time.Minute), Subject: "bramble", Kind: event.Peak, Text: "Bramble is on top since about 14:00",
		Detected: peak.Event{PeakAt: noon.Add(2 * time.Hour), HeightMM: 101, RiseRatio: 2.24},
	}
}

func TestMessages(t *testing.T) {
	wild := &monitor.Measure{Value: math.NaN(), Fresh: true}
	tests := []struct {
		name    string
		payload []byte
	}{
		{"vessel.json", encode(bramble())},
		{"vessel-unknown.json", encode(VesselOf(monitor.Status{ID: "pilot", ReadAt: &noon, Stage: "unknown", Height: wild, Temp: &monitor.Measure{Value: math.Inf(1), Fresh: true}}))},
		{"mat.json", encode(warmMat())},
		{"mat-latched.json", encode(Mat{ID: "mat", At: Time{noon}, Mode: ModeOff, Action: "off", Reason: "cutoff", Latched: true})},
		{"event.json", EventMessage(topEvent())},
		{"daemon.json", encode(Daemon{At: Time{noon}, NextStep: "Feed Bramble", NextAt: Time{noon.Add(time.Hour)}, LoafAt: Time{noon.Add(20 * time.Hour)}, Problem: ProblemOf("The disk is full.")})},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := json.Indent(&b, tt.payload, "", "  "); err != nil {
				t.Fatal(err)
			}
			b.WriteByte('\n')
			golden.Compare(t, filepath.Join("testdata", tt.name), b.String())
		})
	}
}

func TestMatAction(t *testing.T) {
	conf := &config.Config{}
	tests := []struct {
		state control.State
		want  string
	}{
		{control.State{On: true, Mode: control.Hold}, "heating"},
		{control.State{Mode: control.Hold}, "idle"},
		{control.State{Mode: control.Off}, "off"},
		{control.State{On: true, Mode: control.Off}, "heating"}, // what is, not what should be
	}
	for _, tt := range tests {
		if got := MatOf(noon, tt.state, conf, nil).Action; got != tt.want {
			t.Errorf("action of %+v = %q, want %q", tt.state, got, tt.want)
		}
	}
}

func TestEventID(t *testing.T) {
	a, b := topEvent(), topEvent()
	if eventID(a) != eventID(b) {
		t.Error("the same event told again has another id")
	}
	b.Text = "another"
	if eventID(a) == eventID(b) {
		t.Error("two events of one instant have one id")
	}
}
