package planning

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/peak/readyby"
)

func clockAt(clock string) time.Time {
	t, err := time.Parse("15:04", clock)
	if err != nil {
		panic(err)
	}
	return time.Date(2027, 3, 1, t.Hour(), t.Minute(), 0, 0, time.UTC)
}

// TestSteered holds the sentences of a steered mat to golden files, in both clocks and
// units, and in German.
func TestSteered(t *testing.T) {
	for file, r := range map[string]text.Reader{
		"testdata/steered.txt": {}, "testdata/steered-us.txt": {Hours12: true, Fahrenheit: true}, "testdata/steered-de.txt": {Language: "de"},
	} {
		t.Run(file, func(t *testing.T) { testSteered(t, file, r) })
	}
}

func testSteered(t *testing.T, file string, reader text.Reader) {
	a := readyby.Advice{SetpointC: 25, ReadyBy: clockAt("20:00"), Soonest: clockAt("20:40"), Latest: clockAt("18:30"), Off: -20 * time.Minute}
	far := a
	far.Off = 80 * time.Minute
	var got bytes.Buffer
	say := func(a readyby.Advice, r readyby.Reason, change ...func(*readyby.Advice)) {
		a.Reason = r
		for _, f := range change {
			f(&a)
		}
		fmt.Fprintf(&got, "%-12s %s\n", r, Steered(a).In(reader))
	}
	until := func(clock string) func(*readyby.Advice) { return func(a *readyby.Advice) { a.Until = clockAt(clock) } }
	room := func(a *readyby.Advice) { a.RoomBound = true }
	say(a, readyby.NoHour)
	say(a, readyby.NoFeed)
	say(a, readyby.OnCourse)
	say(a, readyby.Ahead, until("18:10"))
	say(a, readyby.Ahead)
	say(far, readyby.Ahead, until("18:10"))
	say(a, readyby.Behind)
	say(far, readyby.Behind)
	say(a, readyby.TooEarly)
	fmt.Fprintf(&got, "%-12s %s\n", "told", Missed(readyby.Advice{Reason: readyby.TooEarly, ReadyBy: a.ReadyBy, Soonest: a.Soonest}).In(reader))
	say(a, readyby.TooEarly, room)
	say(a, readyby.TooLate)
	fmt.Fprintf(&got, "%-12s %s\n", "told", Missed(readyby.Advice{Reason: readyby.TooLate, ReadyBy: a.ReadyBy, Latest: a.Latest}).In(reader))
	fmt.Fprintf(&got, "%-12s %s\n", "told", Missed(readyby.Advice{Reason: readyby.TooEarly, Kind: peak.Bowl, ReadyBy: a.ReadyBy, Soonest: a.Soonest}).In(reader))
	say(a, readyby.TooLate, room)
	say(a, readyby.TooLate, func(a *readyby.Advice) { a.Kind, a.ReadyBy, a.Latest = peak.Bowl, clockAt("07:00"), clockAt("05:10") })
	say(a, readyby.Keeping)
	say(a, readyby.BlindProbe)
	say(a, readyby.BlindCurve)
	say(a, readyby.Arrived, until("20:00"), func(a *readyby.Advice) { a.Expect, a.Rests = clockAt("19:00"), true })
	say(a, readyby.Arrived, until("20:00"), func(a *readyby.Advice) { a.Expect = clockAt("19:40") })
	say(a, readyby.Arrived, func(a *readyby.Advice) { a.Expect = clockAt("20:10") })
	say(a, readyby.Expired)
	golden.Compare(t, file, got.String())
}
