package replay

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"leavend/peak"
	"leavend/sensor/recording"
)

// TestReplayForgetsAtANewStarter replays feeds of one starter and then of
// another: the detector knows only what the second showed.
func TestReplayForgetsAtANewStarter(t *testing.T) {
	r := &player{tell: func(peak.Event) {}, opts: peak.Opts{History: nil}, detector: peak.New(peak.Opts{History: []peak.Feed{{
		WarmHours: 5, RiseMM: 60, Curve: make([]float32, 20),
	}}})}
	row := recording.Empty(time.Now())
	if r.row(row); len(r.detector.History()) != 1 {
		t.Fatalf("it begins with %d past feeds, want 1", len(r.detector.History()))
	}
	row.Note = recording.NewStarter
	if r.row(row); len(r.detector.History()) != 0 {
		t.Errorf("with a new starter it knows %d past feeds, want none", len(r.detector.History()))
	}
}

// TestWhyNoCall replays rows that end without a call and reads the one sentence that
// says why.
func TestWhyNoCall(t *testing.T) {
	rise := func(h float64) float64 { return 60 / (1 + math.Exp(-(h-4)/0.8)) }
	for _, tt := range []struct {
		name  string
		hours float64
		mm    func(h float64) float64
		want  string
	}{
		{"still rising", 4.5, rise, "still rising, by"},
		{"hardly a rise", 9, func(h float64) float64 { return 3 * rise(h) / 60 }, "a rise of 3 mm is too little"},
		{"the distance is gone", 6, func(h float64) float64 {
			if h > 4 {
				return math.NaN()
			}
			return rise(h)
		}, "no usable distance"},
		{"two readings in three are missing", 4.5, func(h float64) float64 {
			if int(h*360)%3 > 0 {
				return math.NaN()
			}
			return rise(h)
		}, "readings brought no distance"},
		{"a few minutes", 0.1, rise, "too few readings"},
		{"over the peak", 12, func(h float64) float64 { return rise(h) - 6*max(h-7, 0) }, ""},
	} {
		var out bytes.Buffer
		s := &story{out: &out}
		r := &player{tell: s.tell, detector: peak.New(peak.Opts{})}
		from := time.Date(2031, 3, 1, 6, 0, 0, 0, time.UTC)
		for i := range int(tt.hours * 360) {
			h := float64(i) / 360
			row := recording.Empty(from.Add(time.Duration(i) * 10 * time.Second))
			row.DistanceMM, row.TempC = 150-tt.mm(h)+0.3*math.Sin(float64(i)), 25
			if i == 0 {
				row.Note = recording.Fed
			}
			r.row(row)
		}
		s.end(r)
		_, got, said := strings.Cut(out.String(), "No call: ")
		if said != (tt.want != "") || !strings.Contains(got, tt.want) {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}
