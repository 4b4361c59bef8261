package readyby

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"leavend/peak"
	"leavend/peak/timetopeak"
)

// noon is a day in an invented kitchen.
var noon = time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)

func at(clock string) time.Time {
	t, err := time.Parse("15:04", clock)
	if err != nil {
		panic(err)
	}
	return noon.Truncate(24 * time.Hour).Add(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute)
}

// cooling shows a steer how a vessel cools towards 16 °C in a cold kitchen, and
// that the mat warms it again.
func cooling(s *Controller, until time.Time) {
	c := 26.0
	for now := until.Add(-8 * time.Hour); now.Before(until); now = now.Add(time.Minute) {
		on := now.After(until.Add(-4 * time.Hour))
		s.Observe(now, c, on)
		c -= 0.5 * (c - 16) / 60
		if on {
			c += 6.0 / 60
		}
	}
}

// fed returns a steer an hour after a feed at 12:00, that has seen 24 °C.
func fed(o Opts, target time.Time) (*Controller, time.Time) {
	s := New(o)
	cooling(s, noon)
	s.Fed(noon, timetopeak.Mixed(1, 2, 2))
	if err := s.SetReadyBy(noon, target); err != nil {
		panic(err)
	}
	now := noon
	for ; now.Before(at("13:00")); now = now.Add(time.Minute) {
		s.Observe(now, 24, now.Minute()%3 == 0)
	}
	return s, now
}

// The prior has 1:2:2 at its peak after some five hours at 24 °C.
func TestAdvice(t *testing.T) {
	fresh := func(now time.Time) Observation { return Observation{ReadAt: now, Stage: peak.Rising} }
	for _, tt := range []struct {
		name   string
		target string
		view   func(now time.Time) Observation
		want   Reason
	}{
		{"an hour that it makes by itself", "17:00", fresh, OnCourse},
		{"hours before it can", "14:30", fresh, TooEarly},
		{"hours after it will", "22:00", fresh, TooLate},
		{"the curve is ahead of the prior", "17:00", func(now time.Time) Observation {
			v := fresh(now)
			v.HasForecast, v.Forecast = true, peak.Forecast{PeakAt: at("16:35"), Low: at("16:20"), High: at("16:50")}
			return v
		}, Ahead},
		{"the curve is behind the prior", "17:00", func(now time.Time) Observation {
			v := fresh(now)
			v.HasForecast, v.Forecast = true, peak.Forecast{PeakAt: at("17:30"), Low: at("17:15"), High: at("17:45")}
			return v
		}, Behind},
		{"no distance comes", "17:00", func(now time.Time) Observation {
			v := fresh(now)
			v.Stage = peak.Lost
			return v
		}, BlindCurve},
		{"the last distance is old", "17:00", func(now time.Time) Observation {
			v := fresh(now)
			v.ReadAt = now.Add(-30 * time.Minute)
			return v
		}, BlindCurve},
		{"the top was called", "17:00", func(now time.Time) Observation {
			v := fresh(now)
			v.Came = peak.Event{At: now, PeakAt: now.Add(-10 * time.Minute)}
			return v
		}, Arrived},
		{"the top of the feed before the target time", "17:00", func(now time.Time) Observation {
			v := fresh(now)
			v.Came = peak.Event{At: noon.Add(-time.Hour), PeakAt: noon.Add(-2 * time.Hour)}
			return v
		}, NoFeed},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, now := fed(Opts{}, at(tt.target))
			a := s.Advise(now, tt.view(now))
			if a.Reason != tt.want {
				t.Fatalf("reason %v (%v), want %v", a.Reason, a, tt.want)
			}
			switch a.Reason {
			case BlindCurve, NoFeed:
				if a.SetpointC != 25 {
					t.Errorf("setpoint %g, want the usual 25", a.SetpointC)
				}
			case TooEarly:
				if a.SetpointC < 27 || !a.Soonest.After(a.ReadyBy) {
					t.Errorf("setpoint %g, soonest %v", a.SetpointC, a.Soonest)
				}
			case TooLate:
				if a.SetpointC > 22.5 || !a.Latest.Before(a.ReadyBy) {
					t.Errorf("setpoint %g, latest %v", a.SetpointC, a.Latest)
				}
			case Ahead:
				if a.SetpointC >= 24 || a.Until.IsZero() {
					t.Errorf("setpoint %g, rests until %v", a.SetpointC, a.Until)
				}
			case Behind:
				if a.SetpointC <= 24 {
					t.Errorf("setpoint %g", a.SetpointC)
				}
			}
		})
	}
}

func TestSilentProbe(t *testing.T) {
	s, now := fed(Opts{UsualC: 24}, at("17:00"))
	now = now.Add(11 * time.Minute)
	if a := s.Advise(now, Observation{ReadAt: now}); a.Reason != BlindProbe || a.SetpointC != 24 {
		t.Errorf("%v, setpoint %g; want the probe silent and the usual 24", a.Reason, a.SetpointC)
	}
}

// A dead starter draws no curve: past the time that the prior allows, the
// mat goes back to its usual warmth instead of heating for nothing.
func TestOverdue(t *testing.T) {
	s, now := fed(Opts{}, at("22:00"))
	for ; now.Before(at("21:30")); now = now.Add(time.Minute) {
		s.Observe(now, 24, false)
	}
	if a := s.Advise(now, Observation{ReadAt: now, Stage: peak.Lag}); a.Reason != BlindCurve || a.SetpointC != 25 {
		t.Errorf("%v at %g °C, want it blind at 25", a.Reason, a.SetpointC)
	}
}

func TestTargetTimeEnds(t *testing.T) {
	s, now := fed(Opts{}, at("17:00"))
	for ; now.Before(at("19:01")); now = now.Add(time.Minute) {
		s.Observe(now, 24, false)
	}
	a := s.Advise(now, Observation{ReadAt: now, Stage: peak.Rising})
	if a.Reason != Expired || !a.Done() || a.SetpointC != 25 {
		t.Errorf("two hours after the target time: %v, done %v, %g °C", a.Reason, a.Done(), a.SetpointC)
	}
}

func TestTargetTimeRefused(t *testing.T) {
	s := New(Opts{})
	for _, bad := range []time.Time{noon, noon.Add(-time.Hour), noon.Add(49 * time.Hour), {}} {
		if err := s.SetReadyBy(noon, bad); err == nil {
			t.Errorf("a target time for %v was taken", bad)
		}
	}
	if _, ok := s.ReadyBy(); ok {
		t.Error("a refused target time stands")
	}
}

// Whatever comes in, the setpoint stays within the limits or is the usual one,
// and it says something.
func TestSetpointStaysWithinLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(15, 27).Draw(t, "coolest")
		o := Opts{Limits: Limits{lo, lo + rapid.Float64Range(0, 8).Draw(t, "span")}, UsualC: rapid.Float64Range(18, 30).Draw(t, "usual")}
		if rapid.Bool().Draw(t, "bowl") {
			o.Kind = peak.Bowl
		}
		low := o.Limits.CoolestC
		if o.Kind == peak.Bowl {
			low = min(low, bowlCoolestC)
		}
		s := New(o)
		now := noon
		anyTemp := rapid.OneOf(rapid.Float64Range(0, 40), rapid.Float64(), rapid.Just(math.NaN()), rapid.Just(math.Inf(1)))
		anyTime := func(name string) time.Time {
			return now.Add(time.Duration(rapid.Int64Range(-int64(30*time.Hour), int64(60*time.Hour)).Draw(t, name)))
		}
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.Int64Range(-int64(time.Minute), int64(40*time.Minute)).Draw(t, "dt")))
			switch rapid.IntRange(0, 5).Draw(t, "act") {
			case 0:
				s.Fed(anyTime("fed"), timetopeak.Mixed(rapid.Float64().Draw(t, "g"), rapid.Float64().Draw(t, "f"), rapid.Float64().Draw(t, "w")))
			case 1:
				_ = s.SetReadyBy(now, anyTime("target"))
			default:
				s.Observe(now, anyTemp.Draw(t, "temp"), rapid.Bool().Draw(t, "on"))
			}
			v := Observation{ReadAt: anyTime("read"), Stage: peak.Stage(rapid.IntRange(0, 7).Draw(t, "stage")), HasForecast: rapid.Bool().Draw(t, "has")}
			v.Forecast = peak.Forecast{PeakAt: anyTime("peak"), Low: anyTime("low"), High: anyTime("high")}
			if rapid.IntRange(0, 3).Draw(t, "came") == 0 {
				v.Came = peak.Event{At: anyTime("came"), PeakAt: anyTime("top")}
			}
			a := s.Advise(now, v)
			if a.SetpointC != o.UsualC && !(a.SetpointC >= low && a.SetpointC <= o.Limits.WarmestC) {
				t.Fatalf("%v asks for %g °C; limits %g to %g, usual %g", a.Reason, a.SetpointC, low, o.Limits.WarmestC, o.UsualC)
			}
		}
	})
}

// A bowl that will be there before the baker is up is let cool, further than
// a jar.
func TestDoughOvernight(t *testing.T) {
	s := New(Opts{Kind: peak.Bowl})
	cooling(s, at("22:00"))
	s.Fed(at("22:00"), timetopeak.Mixed(20, 100, 65))
	if err := s.SetReadyBy(at("22:00"), at("22:00").Add(9*time.Hour)); err != nil {
		t.Fatal(err)
	}
	now := at("22:00")
	for ; now.Before(at("23:30")); now = now.Add(time.Minute) {
		s.Observe(now, 26, true)
	}
	v := Observation{ReadAt: now, Stage: peak.Rising, HasForecast: true,
		Forecast: peak.Forecast{PeakAt: now.Add(4 * time.Hour), Low: now.Add(3 * time.Hour), High: now.Add(5 * time.Hour)}}
	if a := s.Advise(now, v); a.Reason != Ahead || a.SetpointC >= 22 {
		t.Errorf("%v (%v) at %g °C; want it ahead, and cooler than a jar's limit", a.Reason, a, a.SetpointC)
	}
	v.Forecast = peak.Forecast{PeakAt: now.Add(time.Hour), Low: now.Add(50 * time.Minute), High: now.Add(70 * time.Minute)}
	if a := s.Advise(now, v); a.Reason != TooLate {
		t.Errorf("%v (%v); want it told that it comes too early to hold", a.Reason, a)
	}
}
