// Package ical writes iCalendar files (RFC 5545), so that the steps of a
// plan stand in the calendar of whoever bakes.
package ical

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// Event is one entry with an alarm.
type Event struct {
	UID         string // the same for the same step, so that a later file changes it
	Sequence    int    // higher in a later file
	Start, End  time.Time
	Summary     string
	Description string
	Alarm       time.Duration // before Start; 0 is at Start
	Silent      bool          // no alarm
	Weekly      bool          // every week, at the clock times of Start's and End's own zone
}

// Write writes one calendar. stamp is when it was made.
func Write(w io.Writer, name, product string, stamp time.Time, events []Event) error {
	b := bufio.NewWriter(w)
	line := func(key, value string) { fold(b, key+":"+value) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//leavend//"+escape(product)+"//EN")
	line("CALSCALE", "GREGORIAN")
	line("NAME", escape(name)) // RFC 7986; others pass it over
	for _, e := range events {
		line("BEGIN", "VEVENT")
		line("UID", escape(e.UID))
		line("DTSTAMP", utc(stamp))
		line("SEQUENCE", fmt.Sprint(e.Sequence))
		end := maxTime(e.End, e.Start.Add(time.Minute))
		if e.Weekly {
			line("DTSTART", floating(e.Start))
			line("DTEND", floating(end))
			line("RRULE", "FREQ=WEEKLY")
		} else {
			line("DTSTART", utc(e.Start))
			line("DTEND", utc(end))
		}
		line("SUMMARY", escape(e.Summary))
		if e.Description != "" {
			line("DESCRIPTION", escape(e.Description))
		}
		line("TRANSP", "TRANSPARENT") // bread is no meeting
		if !e.Silent {
			line("BEGIN", "VALARM")
			line("ACTION", "DISPLAY")
			line("DESCRIPTION", escape(e.Summary))
			line("TRIGGER", trigger(e.Alarm))
			line("END", "VALARM")
		}
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	return b.Flush()
}

func maxTime(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// utc writes a DATE-TIME in UTC (section 3.3.5, form 2).
func utc(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// floating writes a DATE-TIME by the clock on the wall (section 3.3.5, form 1), so
// that a rule keeps its hour when the clocks change.
func floating(t time.Time) string { return t.Format("20060102T150405") }

// trigger writes a DURATION before the start (section 3.3.6).
func trigger(d time.Duration) string {
	if d <= 0 {
		return "PT0S"
	}
	return fmt.Sprintf("-PT%dM", int(d.Minutes()))
}

// escape writes a TEXT (section 3.3.11). Control characters but tab and line
// breaks are not allowed and are left out.
func escape(s string) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	var b strings.Builder
	for _, c := range s {
		switch {
		case c == '\\' || c == ';' || c == ',':
			b.WriteByte('\\')
			b.WriteRune(c)
		case c == '\n':
			b.WriteString(`\n`)
		case c < ' ' && c != '\t' || c == 0x7f:
		default:
			b.WriteRune(c)
		}
	}
	return b.String()
}

// fold writes one content line, broken so that none is longer than 75 octets
// and no letter is torn (section 3.1).
func fold(b *bufio.Writer, s string) {
	const most = 75
	room := most
	for len(s) > room {
		cut := room
		for cut > 0 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		b.WriteString(s[:cut])
		b.WriteString("\r\n ")
		s, room = s[cut:], most-1 // the space counts
	}
	b.WriteString(s)
	b.WriteString("\r\n")
}
