package ical

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

var stamp = time.Date(2026, 11, 26, 18, 4, 0, 0, time.UTC)

// awkward holds what the format makes hard: commas, semicolons, backslashes,
// line breaks, quotes, long lines, letters of several octets across a fold.
func awkward() []Event {
	long := strings.Repeat("Süßer Sauerteig – 50 g Roggen, 50 g Wasser; ", 9)
	return []Event{
		{UID: "a-1@leavend", Start: stamp.Add(time.Hour), End: stamp.Add(70 * time.Minute), Summary: "Feed 1:2:2, then wait; really", Description: "20 g starter,\n40 g \"rye\"\\wheat\r\nBEGIN:VALARM", Alarm: 15 * time.Minute},
		{UID: "a-2@leavend", Sequence: 3, Start: stamp.Add(25 * time.Hour), Summary: long, Description: strings.Repeat("🍞", 60) + "\x00\x07", Silent: true},
		{UID: "a-3@leavend", Start: stamp.In(time.FixedZone("", 3600)), End: stamp.Add(time.Hour), Summary: "Feed", Silent: true, Weekly: true},
	}
}

func written(t *testing.T, events []Event) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, "Bread, for Saturday", "dev", stamp, events); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// RFC 5545, section 3.1: lines end in CRLF and are no longer than 75 octets
// without it.
func TestLines(t *testing.T) {
	out := written(t, awkward())
	lines := bytes.Split(out, []byte("\r\n"))
	if len(lines[len(lines)-1]) != 0 {
		t.Error("the last line does not end in CRLF")
	}
	folded := 0
	for i, l := range lines {
		if len(l) > 75 {
			t.Errorf("line %d has %d octets", i+1, len(l))
		}
		if bytes.ContainsAny(l, "\r\n\x00\x07") {
			t.Errorf("line %d holds a stray control character", i+1)
		}
		if !bytes.Equal(l, bytes.ToValidUTF8(l, nil)) {
			t.Errorf("line %d tears a letter", i+1)
		}
		if bytes.HasPrefix(l, []byte(" ")) {
			folded++
		}
	}
	if folded == 0 {
		t.Error("nothing was folded, so this shows little")
	}
}

// The file is read back by python3-icalendar, a parser that shares nothing
// with ours.
func TestAnotherParserReadsIt(t *testing.T) {
	const script = `
import sys, json, icalendar
c = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
out = []
for e in c.walk("VEVENT"):
    alarms = [int(a.decoded("trigger").total_seconds()) for a in e.walk("VALARM")]
    out.append(dict(uid=str(e["uid"]), summary=str(e["summary"]), description=str(e.get("description", "")),
        start=e.decoded("dtstart").isoformat(), end=e.decoded("dtend").isoformat(), sequence=int(e["sequence"]),
        stamp=e.decoded("dtstamp").isoformat(), alarms=alarms, rule=e["rrule"].to_ical().decode() if "rrule" in e else ""))
print(json.dumps(dict(name=str(c["name"]), version=str(c["version"]), prodid=str(c["prodid"]), events=out)))
`
	python := "/usr/bin/python3" // Debian's own, which has Debian's packages
	if err := exec.Command(python, "-c", "import icalendar").Run(); err != nil {
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatal("python3-icalendar is missing: ", err)
		}
		t.Skip("python3-icalendar is missing")
	}
	cmd := exec.Command(python, "-c", script)
	cmd.Stdin = bytes.NewReader(written(t, awkward()))
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	type event struct {
		UID, Summary, Description, Start, End, Stamp string
		Sequence                                     int
		Rule                                         string
		Alarms                                       []int
	}
	var got struct {
		Name, Version, ProdID string
		Events                []event
	}
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	if got.Name != "Bread, for Saturday" || got.Version != "2.0" || len(got.Events) != 3 {
		t.Fatalf("read back: %+v", got)
	}
	for i, e := range awkward() {
		g := got.Events[i]
		want := strings.NewReplacer("\r\n", "\n", "\x00", "", "\x07", "").Replace(e.Description)
		if g.UID != e.UID || g.Summary != e.Summary || g.Description != want || g.Sequence != e.Sequence {
			t.Errorf("event %d: got %+v\nwant %+v", i, g, e)
		}
		if e.Weekly {
			if g.Start != "2026-11-26T19:04:00" || g.Rule != "FREQ=WEEKLY" {
				t.Errorf("every week: starts at %s, rule %q", g.Start, g.Rule)
			}
			continue
		}
		if at, err := time.Parse(time.RFC3339, g.Start); err != nil || !at.Equal(e.Start) {
			t.Errorf("event %d starts at %s, want %v", i, g.Start, e.Start)
		}
	}
	if a := got.Events[0].Alarms; len(a) != 1 || a[0] != -15*60 {
		t.Errorf("alarms %v, want one 15 minutes before", a)
	}
	if a := got.Events[1].Alarms; len(a) != 0 {
		t.Errorf("alarms %v of a silent event", a)
	}
}
