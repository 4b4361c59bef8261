package planning

import (
	"fmt"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// momentExamples are what ParseTime understands, for error messages.
const momentExamples = `"Saturday 07:30", "tomorrow 7:30", "2027-01-02 07:30", "2027-01-02T07:30:00Z"`

// ParseTime reads when something is wanted, as people say it: a day of the
// week is the next such, a bare time of day the next such.
func ParseTime(given string, now time.Time, zone *time.Location) (time.Time, error) {
	given = strings.Join(strings.Fields(given), " ")
	if t, err := time.Parse(time.RFC3339, given); err == nil {
		return t, nil
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02t15:04", "2006-01-02 3:04 pm", "2006-01-02 3:04pm"} {
		if t, err := time.ParseInLocation(layout, strings.ToLower(given), zone); err == nil {
			written, _ := time.Parse(layout, strings.ToLower(given))
			return t, thereIs(t, written.Hour(), written.Minute())
		}
	}
	day, clock, two := strings.Cut(given, " ")
	if _, _, whole := parseClock(given); whole || !two {
		day, clock = "", given
	}
	clock = strings.TrimPrefix(clock, "at ")
	hour, minute, ok := parseClock(clock)
	if !ok {
		return time.Time{}, text.Fail("cli.plan.no_time", text.Name("given", clock), text.Name("like", momentExamples))
	}
	now = now.In(zone)
	on := func(days int) time.Time {
		return time.Date(now.Year(), now.Month(), now.Day()+days, hour, minute, 0, 0, zone)
	}
	t, err := momentOn(day, now, on)
	if err == nil {
		err = thereIs(t, hour, minute)
	}
	return t, err
}

// thereIs refuses a time of day that the clocks leave out that night.
func thereIs(t time.Time, hour, minute int) error {
	if t.Hour() == hour && t.Minute() == minute {
		return nil
	}
	return text.Fail("cli.plan.no_such_time", text.Name("clock", fmt.Sprintf("%02d:%02d", hour, minute)), text.Name("day", t.Format("2006-01-02")))
}

// momentOn finds the day that is meant; on is the time of day so many days from
// now.
func momentOn(day string, now time.Time, on func(days int) time.Time) (time.Time, error) {
	switch day = strings.ToLower(day); day {
	case "":
		if t := on(0); t.After(now) {
			return t, nil
		}
		return on(1), nil
	case "today":
		return on(0), nil
	case "tomorrow":
		return on(1), nil
	}
	for w := time.Sunday; w <= time.Saturday; w++ {
		name := strings.ToLower(w.String())
		if len(day) < 3 || !strings.HasPrefix(name, day) {
			continue
		}
		t := on(int(w-now.Weekday()+7) % 7)
		if !t.After(now) {
			t = on(int(w-now.Weekday()+7)%7 + 7)
		}
		return t, nil
	}
	return time.Time{}, text.Fail("cli.plan.no_day", text.Name("given", day), text.Name("like", momentExamples))
}

// parseClock reads a time of day: 07:30, 7:30, 7.30, 7:30 am, 7pm.
func parseClock(text string) (hour, minute int, ok bool) {
	text = strings.ReplaceAll(strings.ToLower(text), ".", ":")
	for _, layout := range []string{"15:04", "3:04pm", "3:04 pm", "3pm", "3 pm"} {
		if t, err := time.Parse(layout, text); err == nil {
			return t.Hour(), t.Minute(), true
		}
	}
	return 0, 0, false
}
