package said

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var (
	saturday = time.Date(2026, 11, 28, 14, 20, 0, 0, time.UTC)
	friday   = saturday.AddDate(0, 0, -1)
	american = Form{Hours12: true, US: true}
)

func TestForms(t *testing.T) {
	tests := []struct {
		name       string
		line       Line
		metric, us string
	}{
		{"a clock", Say("at %v", Clock(saturday)), "at 14:20", "at 2:20 pm"},
		{"another day", Say("%v", Near(saturday, friday)), "Sat 14:20", "Sat 2:20 pm"},
		{"the same day", Say("%v", Near(saturday, saturday.Add(-time.Hour))), "14:20", "2:20 pm"},
		{"a week on, when the day alone would mislead", Say("%v", Near(saturday, saturday.AddDate(0, 0, -7))), "Sat 28 Nov 14:20", "Sat 28 Nov 2:20 pm"},
		{"noon and midnight", Say("%v %v", Clock(saturday.Add(-140*time.Minute)), Clock(saturday.Add(-860*time.Minute))), "12:00 00:00", "12:00 pm 12:00 am"},
		{"a date", Say("%v", On(saturday)), "Sat 28 Nov", "Sat 28 Nov"},
		{"whole degrees", Say("%v", Degrees(24)), "24 °C", "75 °F"},
		{"half a degree", Say("%v", Degrees(20.5)), "20.5 °C", "69 °F"},
		{"a setpoint", Say("%v", Tenths(25)), "25.0 °C", "77.0 °F"},
		{"a loaf's flour", Say("%v", Grams(500)), "500 g", "17.6 oz"},
		{"its salt", Say("%v", Grams(10)), "10 g", "0.35 oz"},
		{"a line in a line", Say("Then %v.", Say("rest at %v", Degrees(24))), "Then rest at 24 °C.", "Then rest at 75 °F."},
		{"what is no value", Say("Fed %v, %v times", "1:5:5", 3), "Fed 1:5:5, 3 times", "Fed 1:5:5, 3 times"},
		{"two lines", Say("One.").And(Say(" Two at %v.", Degrees(20))), "One. Two at 20 °C.", "One. Two at 68 °F."},
		{"a capital", Say("on the mat").Capital(), "On the mat", "On the mat"},
		{"nothing", nil, "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.line.In(Form{}); got != tt.metric {
				t.Errorf("metric: %q, want %q", got, tt.metric)
			}
			if got := tt.line.In(american); got != tt.us {
				t.Errorf("us: %q, want %q", got, tt.us)
			}
			b, err := json.Marshal(tt.line)
			if err != nil {
				t.Fatal(err)
			}
			var back Line
			if err := json.Unmarshal(b, &back); err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(back.In(american), tt.us); d != "" {
				t.Errorf("by way of %s: %s", b, d)
			}
		})
	}
}

func TestJSON(t *testing.T) {
	b, err := json.Marshal(Say("Fed at %v keep %v at %v, %v.", Near(saturday, friday), Grams(12), Tenths(24), On(friday)))
	const want = `["Fed at ",{"at":"2026-11-28T14:20:00Z","from":"2026-11-27T14:20:00Z"}," keep ",{"g":12}," at ",{"c":24,"digits":1},", ",{"day":"2026-11-27T14:20:00Z"},"."]`
	if err != nil || string(b) != want {
		t.Errorf("%v, %s\nwant %s", err, b, want)
	}
	for _, bad := range []string{`[{}]`, `[3]`, `[{"c":"warm"}]`, `"text"`} {
		var l Line
		if err := json.Unmarshal([]byte(bad), &l); err == nil {
			t.Errorf("%s was read as %q", bad, l.In(Form{}))
		}
	}
}
