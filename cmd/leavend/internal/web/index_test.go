package web

import (
	"os"
	"testing"
	"time"
)

// TestFrameSaysTheHour compares what stands in the document before any script
// ran with what each vessel is about to show: the hour in the kitchen's zone,
// and only where it is today, since the frame names no day.
func TestFrameSaysTheHour(t *testing.T) {
	document, err := os.ReadFile("page/index.html")
	if err != nil {
		t.Fatal(err)
	}
	words, err := os.ReadFile("page/words.js")
	if err != nil {
		t.Fatal(err)
	}
	x, err := newIndex(document, words)
	if err != nil {
		t.Fatal(err)
	}
	noon := time.Date(2026, 7, 4, 12, 0, 0, 0, time.UTC)
	later := noon.Add(5 * time.Hour)
	k := Kitchen{At: noon, Zone: "Europe/Paris"}
	tests := []struct {
		name  string
		v     Vessel
		lang  string
		label string
		hour  string
	}{
		{"expected", Vessel{Kind: Jar, Stage: Rising, Forecast: &Forecast{TopAt: later}}, "de", "On top at about", "19:00"},
		{"in the American way", Vessel{Kind: Bowl, Stage: Rising, Forecast: &Forecast{TopAt: later}}, "en-US,en;q=0.9", "Risen enough at about", "7:00 pm"},
		{"on top", Vessel{Kind: Jar, Stage: OnTop, Top: &Top{TopAt: noon}}, "", "On top since", "14:00"},
		{"past it", Vessel{Kind: Jar, Stage: Falling, Top: &Top{TopAt: noon}, Forecast: &Forecast{TopAt: later}}, "", "Was on top at", "14:00"},
		{"tomorrow in the kitchen", Vessel{Kind: Jar, Stage: Rising, Forecast: &Forecast{TopAt: later.Add(6 * time.Hour)}}, "", "", ""},
		{"in the fridge", Vessel{Kind: Jar, FridgeSince: noon, Forecast: &Forecast{TopAt: later}}, "", "", ""},
		{"nothing known", Vessel{Kind: Jar, Stage: Unfed}, "", "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.v.Name = "Bramble"
			want := outlook{"Bramble", tt.label, tt.hour}
			if got := x.outlook(k, tt.v, hourLayout(tt.lang)); got != want {
				t.Errorf("%+v, want %+v", got, want)
			}
		})
	}
}
