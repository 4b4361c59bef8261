package monitor

import (
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/sensor"
)

// statusConfig is a jar and a bowl, each with a ranger and a thermometer of its
// own, so that there is something to fail.
const statusConfig = `
[[sensor]]
name = "eye"
chip = "kitchen"
[[sensor]]
name = "bowl eye"
chip = "kitchen"
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "eye"
floor_mm = 220
[[vessel]]
name = "Bowl"
kind = "bowl"
distance = "bowl eye"
temperature = "bowl eye"
floor_mm = 220
target_ratio = 1.75
[reminders]
feed_every = "24h"
fridge_feed_every = "168h"
`

// watched is a monitor whose sensors answer at now, with a vessel that was fed
// three hours before and stands as the curve tells.
func watched(t testing.TB, slug string, now time.Time, change func(*Vessel)) (*Monitor, *Vessel) {
	t.Helper()
	conf := configtest.Parse(t, statusConfig)
	m := NewMonitor(conf, event.NewClock(now, 1), slog.New(slog.DiscardHandler))
	var err error
	if m.Store, _, err = store.Open(t.Context(), filepath.Join(t.TempDir(), "leavend.db"), store.Opts{}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { m.Store.Close() })
	for _, c := range conf.Vessels {
		v := NewVessel(c, nil)
		v.of = m
		m.Vessels = append(m.Vessels, v)
		for _, q := range []sensor.Quantity{sensor.Distance, sensor.Temperature} {
			value := map[sensor.Quantity]float64{sensor.Distance: 120, sensor.Temperature: 20}[q]
			m.Health.Record(now, hardware.ChannelKey{Sensor: c.Distance, Quantity: q}, c.Slug, sensor.Reading{Value: value, At: now}, nil, nil)
		}
	}
	v := m.Vessel(slug)
	v.now = observation{At: now, ReadAt: now, DistanceMM: 120, TempC: 20, Status: peak.Status{
		Stage: peak.Rising, HeightMM: 100, RiseMM: 40, RiseRatio: 100.0 / 60, SpeedMMH: 12, FedAt: now.Add(-3 * time.Hour), FedSource: store.Marked,
	}}
	if change != nil {
		change(v)
	}
	v.now.Call = v.run.call
	v.now.Stage = v.curveStage()
	return m, v
}

// expects has the curve foretell a peak in an hour.
func expects(v *Vessel) {
	at := v.now.At.Add(time.Hour)
	v.now.Expecting, v.now.Forecast = true, peak.Forecast{PeakAt: at, Low: at.Add(-10 * time.Minute), High: at.Add(10 * time.Minute), RiseRatio: 2}
}

// called has the peak, or the target, told an hour ago.
func called(v *Vessel) {
	at := v.now.At.Add(-time.Hour)
	v.run.call = peak.Event{At: at, PeakAt: at.Add(-5 * time.Minute), RiseRatio: 2, RiseMM: 60}
	if v.now.Status.Stage == peak.Rising && v.Conf.Kind == config.Jar {
		v.now.Status.Stage = peak.AtPeak
	}
}

// TestStageOfACurve holds each stage to what makes it.
func TestStageOfACurve(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	stands := func(s peak.Stage, ratio float64) func(*Vessel) {
		return func(v *Vessel) { v.now.Status.Stage, v.now.Status.RiseRatio = s, ratio }
	}
	both := func(all ...func(*Vessel)) func(*Vessel) {
		return func(v *Vessel) {
			for _, f := range all {
				f(v)
			}
		}
	}
	unfed := func(v *Vessel) { v.now.Status.FedAt = time.Time{} }
	for _, tt := range []struct {
		name, slug string
		change     func(*Vessel)
		want       Stage
	}{
		{"nothing moves", "bramble", stands(peak.Waiting, 1), Waiting},
		{"nothing moves, and no feed is known", "bramble", both(stands(peak.Lag, 1), unfed), Waiting},
		{"just fed", "bramble", stands(peak.Lag, 1), Lag},
		{"rising", "bramble", nil, Rising},
		{"at its peak", "bramble", called, AtPeak},
		{"past its peak", "bramble", both(called, stands(peak.Falling, 1.8)), Falling},
		{"half of the rise is lost", "bramble", both(called, stands(peak.Collapsed, 1.4)), Collapsed},
		{"unseen for too long", "bramble", stands(peak.Lost, 1.5), Unsure},
		{"dough rising", "bowl", nil, Rising},
		{"dough at its target", "bowl", both(called, stands(peak.Rising, 1.8)), AtTarget},
		{"dough going over", "bowl", both(called, stands(peak.Rising, 2)), Over},
		{"dough past its best", "bowl", both(called, stands(peak.Rising, 2.3)), Past},
		{"dough that sinks", "bowl", both(called, stands(peak.Rising, 1.5)), Past},
		{"dough past its best, without readings", "bowl", both(called, stands(peak.Lost, 2.3)), Past},
		{"dough that went over and shrank a little", "bowl", both(called, stands(peak.Rising, 1.9), func(v *Vessel) { v.run.proof = Overproofing }), Over},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, v := watched(t, tt.slug, now, tt.change); v.Status(now).Stage != tt.want {
				t.Errorf("stage %s, want %s", v.Status(now).Stage, tt.want)
			}
		})
	}
}

// TestDoughThatStandsTooLong lets a bowl stand ten hours beyond its target: it
// goes over and is past its best, each is told, and while it is ready the status
// foretells when that will be.
func TestDoughThatStandsTooLong(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	_, v := watched(t, "bowl", now, func(v *Vessel) {
		called(v)
		v.now.Status.RiseRatio, v.now.Status.HeightMM, v.now.Status.RiseMM = 1.8, 108, 48
	})
	first := v.Status(now)
	if first.Stage != AtTarget || first.BestUntil == nil {
		t.Fatalf("at its target it is %s, best until %v", first.Stage, first.BestUntil)
	}
	foretold := *first.BestUntil
	var told []event.Kind
	var past time.Time
	for at := now; at.Before(now.Add(10 * time.Hour)); at = at.Add(time.Minute) {
		h := 108 + 12*at.Sub(now).Hours()
		v.now.At, v.now.ReadAt = at, at
		v.now.Status.RiseRatio, v.now.Status.HeightMM, v.now.Status.RiseMM = h/60, h, h-60
		v.now.Stage = v.curveStage()
		for _, e := range v.passed(at) {
			told = append(told, e.Kind)
			if e.Kind == event.Past {
				past = at
			}
		}
	}
	if len(told) != 2 || told[0] != event.Over || told[1] != event.Past {
		t.Errorf("told %v", told)
	}
	if s := v.Status(now.Add(10 * time.Hour)); s.Stage != Past || s.BestUntil != nil {
		t.Errorf("ten hours later it is %s, best until %v", s.Stage, s.BestUntil)
	}
	if past.Sub(foretold).Abs() > 2*time.Minute {
		t.Errorf("foretold for %v, past its best at %v", foretold, past)
	}
}

// TestFallIsToldWithItsStage holds the event of a fall to the moment at which the
// status says so, and to once.
func TestFallIsToldWithItsStage(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	_, v := watched(t, "bramble", now, called)
	told := 0
	for i, stage := range []peak.Stage{peak.AtPeak, peak.Falling, peak.AtPeak, peak.Falling, peak.Collapsed} {
		v.now.Status.Stage = stage
		v.now.Stage = v.curveStage()
		for _, e := range v.passed(now) {
			if told++; e.Kind != event.Falling || i != 1 || v.Status(now).Stage != Falling {
				t.Errorf("look %d: told %s, the status says %s", i, e.Kind, v.Status(now).Stage)
			}
		}
	}
	if told != 1 {
		t.Errorf("told %d times, want once", told)
	}
}

// TestNothingIsForetoldUnseen holds that no time is given of a vessel that
// cannot be seen.
func TestNothingIsForetoldUnseen(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	m, v := watched(t, "bramble", now, expects)
	if s := v.Status(now); s.Stage != Rising || s.Forecast == nil || s.Forecast.Source != OwnCurve {
		t.Fatalf("while it is seen: %s, %+v", s.Stage, s.Forecast)
	}
	key := hardware.ChannelKey{Sensor: "eye", Quantity: sensor.Distance}
	for range failureLimit {
		m.Health.Record(now.Add(10*time.Minute), key, "bramble", sensor.Reading{}, sensor.ErrHung, func(error) event.AlarmText { return event.AlarmText{Say: text.Say("alarm.sensor.no_distance")} })
	}
	m.Alarms.Raise(now, event.AlarmKey{Subject: "bramble", Reason: event.NoReading}, event.AlarmText{Say: text.Say("alarm.sensor.no_distance")})
	s := v.Status(now.Add(10 * time.Minute))
	if s.Stage != Unsure || s.Forecast != nil || s.BestUntil != nil || s.Available || s.Alarm == nil {
		t.Errorf("unseen: %s, forecast %+v, best until %v, available %v, alarm %v", s.Stage, s.Forecast, s.BestUntil, s.Available, s.Alarm)
	}
	if s.Height == nil || s.Height.Fresh {
		t.Errorf("the height of ten minutes ago: %+v", s.Height)
	}
}

// TestFridgeHidesTheCurve holds that a jar in the fridge is that and nothing
// else, whatever its curve does.
func TestFridgeHidesTheCurve(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	m, v := watched(t, "bramble", now, func(v *Vessel) { called(v); v.now.Status.Stage = peak.Collapsed })
	m.Fridge.since.note(FridgeSetting("bramble"), now.Add(-time.Hour))
	s := v.Status(now)
	if s.Stage != InFridge || s.FridgeSince == nil || s.Call != nil || s.Forecast != nil || s.FellAt != nil {
		t.Errorf("%s since %v, call %+v, forecast %+v, fell %v", s.Stage, s.FridgeSince, s.Call, s.Forecast, s.FellAt)
	}
}

// TestFeedIsDue holds when the next feed is due: of a jar by its temperature, in
// the fridge by the week, of dough never.
func TestFeedIsDue(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	m, v := watched(t, "bramble", now, nil)
	due := func(v *Vessel) *time.Duration {
		s := v.Status(now)
		if s.Feed == nil || s.Feed.DueAt == nil {
			return nil
		}
		return new(s.Feed.DueAt.Sub(s.Feed.At))
	}
	if got := due(v); got == nil || *got != 24*time.Hour {
		t.Errorf("a jar at 20 °C: %v, want 24h", got)
	}
	m.Fridge.since.note(FridgeSetting("bramble"), now)
	if got := due(v); got == nil || *got != 7*24*time.Hour {
		t.Errorf("in the fridge: %v, want a week", got)
	}
	if _, bowl := watched(t, "bowl", now, nil); due(bowl) != nil {
		t.Errorf("dough: %v, want none", due(bowl))
	}
}

// TestToldPeakStays builds a curve again whose detector finds the peak some
// minutes away: what was told of the feed holds, and is not told twice. What was
// told of a feed that was taken back does not count.
func TestToldPeakStays(t *testing.T) {
	fed := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	at := func(h float64) time.Time { return fed.Add(time.Duration(h * float64(time.Hour))) }
	told := func(kind event.Kind, h float64) store.Event {
		return store.Event{Kind: string(kind), At: at(h), Data: []byte(`{"peak_at":"` + at(h).Add(-9*time.Minute).Format(time.RFC3339) + `","rise_ratio":2.2}`)}
	}
	_, v := watched(t, "bramble", at(8), func(v *Vessel) { v.now.Status.FedAt = fed })
	v.run = feedRun{}
	v.recall([]store.Event{told(event.Peak, 10), told(event.Fed, 9), told(event.Peak, 6), told(event.Fed, 0)})
	if events := v.eventsOf([]peak.Event{{Kind: peak.EventPeak, At: at(6.05), PeakAt: at(6)}}); len(events) != 0 {
		t.Errorf("the peak is told again: %v", events)
	}
	if got, want := v.run.call.PeakAt, at(6).Add(-9*time.Minute); !got.Equal(want) || v.run.call.RiseRatio != 2.2 {
		t.Errorf("the peak is at %v (%g times), it was told for %v", got, v.run.call.RiseRatio, want)
	}
	v.eventsOf([]peak.Event{{Kind: peak.EventFed, At: at(12), FeedAt: at(12)}})
	if !v.run.call.At.IsZero() {
		t.Error("the next feed begins with the peak of the one before")
	}
}
