package planning

import (
	"crypto/sha256"
	"fmt"
	"io"
	"time"

	"leavend/cmd/leavend/internal/ical"
	"leavend/cmd/leavend/internal/text"
)

// planAlarm is how long before a step the calendar speaks up.
const planAlarm = 10 * time.Minute

// WriteCalendar writes a plan's steps as calendar entries. The UID of a
// step is the same whenever the same loaf is planned, so that a later file
// moves the entries and does not double them; sequence is then higher.
func (r Writer) WriteCalendar(w io.Writer, ask Ask, p Plan, sequence int, product string, stamp time.Time) error {
	return ical.Write(w, text.Capital(ask.Recipe), product, stamp, r.Events(ask, p, sequence))
}

// WeeklyEvents are the steps of a plan for every week, by the clock of a zone.
func (r Writer) WeeklyEvents(ask Ask, p Plan, zone *time.Location) []ical.Event {
	events := r.Events(ask, p, 0)
	for i := range events {
		e := &events[i]
		e.Start, e.End, e.Weekly = e.Start.In(zone), e.End.In(zone), true
	}
	return events
}

// Events are a plan's steps.
func (r Writer) Events(ask Ask, p Plan, sequence int) []ical.Event {
	var events []ical.Event
	for _, s := range p.Steps {
		e := ical.Event{
			UID: planUID(ask, s.Name), Sequence: sequence, Start: s.At, End: s.Until,
			Summary: text.Capital(text.Stage(s.Name).In(r.Reader)), Description: s.Text, Alarm: planAlarm,
		}
		switch {
		case s.Kind == "top":
			e.Summary, e.Silent = text.Say("plan.step.peak").In(r.Reader), true
			e.Start, e.End = s.Earliest, s.Latest
		case s.Kind == "loaf":
			e.Summary, e.End, e.Silent = text.Say("plan.step.is_ready", text.Name("recipe", text.Capital(ask.Recipe))).In(r.Reader), s.At, true
		case !s.OvenOn.IsZero():
			e.Alarm = s.At.Sub(s.OvenOn)
		}
		events = append(events, e)
	}
	return events
}

// planUID names a step of a loaf.
func planUID(ask Ask, step string) string {
	sum := sha256.Sum256([]byte(fmt.Sprintf("%s|%s|%d|%s", ask.Vessel, ask.Recipe, ask.Ready.Unix(), step)))
	return fmt.Sprintf("%x@leavend.invalid", sum[:12])
}
