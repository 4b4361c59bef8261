package config

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"leavend/peak/plan"
)

// EditHours returns the text of a configuration with other hours of sleep and
// another weekly absence, and everything else, comments too, as it was. Absences
// with a date stay.
func EditHours(text []byte, path string, asleepFrom, asleepTo ClockTime, weekly []plan.Away) ([]byte, error) {
	text, err := Edit(text, path, "plan", "", Setting{"asleep_from", quote(asleepFrom.String())}, Setting{"asleep_to", quote(asleepTo.String())})
	if err != nil {
		return nil, err
	}
	before, err := Parse(text, path)
	if err != nil {
		return nil, err
	}
	lines := split(text)
	old, err := blocksOf(text, lines, "plan", "away")
	if err != nil {
		return nil, fmt.Errorf("config: set plan.away in %s: %w", path, err)
	}
	var fresh []string
	for _, a := range weekly {
		fresh = append(fresh, awayTOML(a))
	}
	for i, a := range before.Plan.Away {
		if !a.Start.IsZero() {
			fresh = append(fresh, strings.Join(lines[old[i].from:old[i].to], ""))
		}
	}
	after := []byte(strings.TrimRight(putBlocks(lines, old, fresh, "#[[plan.away]]"), "\n") + "\n")
	if _, err := Parse(after, path); err != nil {
		return nil, err
	}
	return after, nil
}

func awayTOML(a plan.Away) string {
	var b strings.Builder
	fmt.Fprintf(&b, "[[plan.away]]\nfrom = %q\nto = %q\n", ClockTime(a.From).String(), ClockTime(a.To).String())
	if len(a.Days) > 0 && len(a.Days) < 7 {
		fmt.Fprintf(&b, "days = [\"%s\"]\n", strings.Join(words(DaysOf(a.Days)), `", "`))
	}
	return b.String()
}

// DaysOf names days of the week as the file does, in its order.
func DaysOf(weekdays []time.Weekday) (days []Day) {
	for _, d := range Days() {
		if slices.Contains(weekdays, d.Weekday()) {
			days = append(days, d)
		}
	}
	return days
}
