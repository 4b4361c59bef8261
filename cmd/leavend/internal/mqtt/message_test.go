package mqtt

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"
	"time"
)

// noon is the hour at which the invented kitchen of these tests stands.
var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.FixedZone("", 3600))

// bramble is an invented jar on its way up.
func bramble() Vessel {
	return Vessel{
		ID: "bramble", At: noon, Stage: "rising", HeightMM: new(82.449), RiseMM: new(37.4), RiseRatio: new(1.83111),
		TemperatureC: new(25.0625), FedAt: noon.Add(-4 * time.Hour), PeakAt: noon.Add(2 * time.Hour),
		PeakLow: noon.Add(90 * time.Minute), PeakHigh: noon.Add(160 * time.Minute), Available: true,
		ExpectedAt: noon.Add(2 * time.Hour), FeedDueAt: noon.Add(20 * time.Hour), ReadyAt: noon.Add(3 * time.Hour), ReadyTime: "15:00",
	}
}

func warmMat() Mat {
	return Mat{
		ID: "mat", At: noon, On: true, Mode: ModeHeat, Reason: "below the setpoint", SetpointC: new(26.0),
		TemperatureC: new(25.0625), MatC: new(31.5), CutoffC: new(38.0),
		ReasonCode: "below-setpoint", EnergyKWh: new(1.23456), Switches: new(1234.0),
	}
}

func topEvent() Event {
	return Event{
		ID: "bramble-peak-1773491400000", At: noon.Add(130 * time.Minute), Subject: "bramble", Kind: EventPeak,
		Text: "Bramble is on top since about 14:00", PeakAt: noon.Add(2 * time.Hour), HeightMM: new(101.0), RiseRatio: new(2.24),
	}
}

func TestMessages(t *testing.T) {
	tests := []struct {
		name    string
		payload []byte
	}{
		{"vessel.json", bramble().Payload()},
		{"vessel-unknown.json", Vessel{ID: "pilot", At: noon, Stage: "unknown", HeightMM: new(math.NaN()), TemperatureC: new(math.Inf(1))}.Payload()},
		{"mat.json", warmMat().Payload()},
		{"mat-latched.json", Mat{ID: "mat", At: noon, Mode: ModeOff, Reason: "cutoff", Latched: true}.Payload()},
		{"event.json", topEvent().Payload()},
		{"daemon.json", Daemon{At: noon, NextStep: "Feed Bramble", NextAt: noon.Add(time.Hour), LoafAt: noon.Add(20 * time.Hour), Alarm: "The disk is full."}.Payload()},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := json.Indent(&b, tt.payload, "", "  "); err != nil {
				t.Fatal(err)
			}
			b.WriteByte('\n')
			golden(t, tt.name, b.Bytes())
		})
	}
}

func TestMatAction(t *testing.T) {
	tests := []struct {
		mat  Mat
		want string
	}{
		{Mat{On: true, Mode: ModeHeat}, "heating"},
		{Mat{Mode: ModeHeat}, "idle"},
		{Mat{Mode: ModeOff}, "off"},
		{Mat{On: true, Mode: ModeOff}, "heating"}, // what is, not what should be
	}
	for _, tt := range tests {
		if got := tt.mat.action(); got != tt.want {
			t.Errorf("action of %+v = %q, want %q", tt.mat, got, tt.want)
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
