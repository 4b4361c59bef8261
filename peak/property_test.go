package peak

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// specimens are a few recordings of different shape, marked and plain.
func specimens() []invented {
	return []invented{single(families[0], 21), single(families[1], 22), single(families[3], 23), single(families[7], 24)}
}

func callsOf(events []Event) (calls []Event) {
	for _, e := range events {
		if e.Kind == EventPeak {
			calls = append(calls, e)
		}
	}
	return calls
}

// runRows drives a detector over rows.
func runRows(rows []sample, o Opts) []Event {
	return runInvented(invented{rows: rows}, o)
}

func shifted(rows []sample, by time.Duration, up float64) []sample {
	out := append([]sample(nil), rows...)
	for i := range out {
		out[i].at = out[i].at.Add(by)
		out[i].height += up
	}
	return out
}

func TestTimeShift(t *testing.T) {
	const by = 123456789 * time.Second
	for _, rec := range specimens() {
		a, b := runRows(rec.rows, Opts{}), runRows(shifted(rec.rows, by, 0), Opts{})
		if len(a) != len(b) {
			t.Fatalf("%s: %d events, %d after the shift", rec.name, len(a), len(b))
		}
		for i := range a {
			if a[i].Kind != b[i].Kind || !a[i].At.Add(by).Equal(b[i].At) || a[i].PeakAt.Add(by).Sub(b[i].PeakAt).Abs() > time.Millisecond {
				t.Fatalf("%s: event %d: got %+v, want %+v moved by %v", rec.name, i, b[i], a[i], by)
			}
		}
	}
}

// sameCall wants one call on each side, at most apart from each other.
func sameCall(t *testing.T, name string, got, want []Event, most time.Duration) {
	t.Helper()
	a, b := callsOf(got), callsOf(want)
	if len(a) != len(b) {
		t.Errorf("%s: %d calls, want %d", name, len(a), len(b))
		return
	}
	for i := range a {
		if d := a[i].At.Sub(b[i].At).Abs(); d > most {
			t.Errorf("%s: call %v later or earlier, want at most %v", name, d, most)
		}
	}
}

// flatTop is how far two calls for the same top may lie apart when the
// readings differ a little: a flat top lasts two hours and longer.
const flatTop = 80 * time.Minute

func TestHeightOffset(t *testing.T) {
	for _, rec := range specimens() {
		sameCall(t, rec.name, runRows(shifted(rec.rows, 0, 1000), Opts{}), runRows(rec.rows, Opts{}), 0)
	}
}

// TestUnitScale: a jar a quarter taller draws the same curve, so the call
// belongs on the same top. It need not come in the same minute, because a
// millimetre of tolerance is less of a taller rise.
func TestUnitScale(t *testing.T) {
	for _, rec := range specimens() {
		rows := append([]sample(nil), rec.rows...)
		for i := range rows {
			rows[i].height *= 1.25
		}
		sameCall(t, rec.name, runRows(rows, Opts{}), runRows(rec.rows, Opts{}), flatTop)
	}
}

func TestDroppedRows(t *testing.T) {
	for k, rec := range specimens() {
		r := rand.New(rand.NewPCG(uint64(k), 1))
		var rows []sample
		for _, s := range rec.rows {
			if s.fed || r.Float64() > 0.1 {
				rows = append(rows, s)
			}
		}
		sameCall(t, rec.name, runRows(rows, Opts{}), runRows(rec.rows, Opts{}), flatTop)
	}
}

func TestDuplicatedRows(t *testing.T) {
	for _, rec := range specimens() {
		d := New(Opts{})
		var events []Event
		for _, s := range rec.rows {
			if s.fed {
				events = append(events, d.Fed(s.at)...)
			}
			events = append(events, d.Add(s.at, s.height, s.temp)...)
			events = append(events, d.Add(s.at, s.height, s.temp)...)
		}
		sameCall(t, rec.name, events, runRows(rec.rows, Opts{}), 0)
		if n := d.Status().Refused.Late; n != len(rec.rows) {
			t.Errorf("%s: %d readings refused as late, want %d", rec.name, n, len(rec.rows))
		}
	}
}

func TestOutOfOrderRows(t *testing.T) {
	for k, rec := range specimens() {
		r := rand.New(rand.NewPCG(uint64(k), 2))
		rows := append([]sample(nil), rec.rows...)
		for i := 1; i+1 < len(rows); i++ {
			if !rows[i].fed && !rows[i+1].fed && r.Float64() < 0.05 {
				rows[i], rows[i+1] = rows[i+1], rows[i]
			}
		}
		sameCall(t, rec.name, runRows(rows, Opts{}), runRows(rec.rows, Opts{}), flatTop)
	}
}

// TestCausality: what is said for a moment does not depend on rows after it.
func TestCausality(t *testing.T) {
	for _, rec := range specimens() {
		all := runRows(rec.rows, Opts{})
		for _, share := range []float64{0.2, 0.4, 0.55, 0.8} {
			cut := rec.rows[:int(share*float64(len(rec.rows)))]
			part := runRows(cut, Opts{})
			if len(part) > len(all) {
				t.Fatalf("%s: a cut recording says more", rec.name)
			}
			for i, e := range part {
				if fmt.Sprint(e) != fmt.Sprint(all[i]) {
					t.Fatalf("%s cut at %v: event %d is %v, want %v", rec.name, share, i, e, all[i])
				}
			}
			if len(part) < len(all) && !all[len(part)].At.After(cut[len(cut)-1].at) {
				t.Fatalf("%s cut at %v: event %d is missing", rec.name, share, len(part))
			}
		}
	}
}

// TestRestart: a detector rebuilt from the readings since the feed calls
// within a minute of the one that never stopped, with the same history.
func TestRestart(t *testing.T) {
	rec := several(families[0], 31, 5, true)
	whole := New(Opts{})
	var events []Event
	var fedAt int
	var past []Feed
	for i, s := range rec.rows {
		if s.fed {
			events = append(events, whole.Fed(s.at)...)
			fedAt = i
			past = append([]Feed(nil), whole.History()...)
		}
		events = append(events, whole.Add(s.at, s.height, s.temp)...)
	}
	if len(past) < 3 {
		t.Fatalf("the history holds %d feeds, want at least 3", len(past))
	}
	want := callsOf(events)
	again := New(Opts{History: past})
	var got []Event
	got = append(got, again.Fed(rec.rows[fedAt].at)...)
	for _, s := range rec.rows[fedAt:] {
		got = append(got, again.Add(s.at, s.height, s.temp)...)
	}
	calls := callsOf(got)
	if len(calls) != 1 {
		t.Fatalf("%d calls after the restart, want 1", len(calls))
	}
	last := want[len(want)-1]
	if d := calls[0].At.Sub(last.At).Abs(); d > time.Minute {
		t.Errorf("the call after a restart is %v away", d)
	}
}

// TestRestartFound: the same where the feed was found and not marked.
func TestRestartFound(t *testing.T) {
	rec := several(families[0], 33, 2, false)
	events := runRows(rec.rows, Opts{})
	var fed, call Event
	for _, e := range events {
		switch {
		case e.Kind == EventFed && e.Source == "found":
			fed = e
		case e.Kind == EventPeak && !fed.At.IsZero():
			call = e
		}
	}
	if call.At.IsZero() {
		t.Fatal("the second feed was not found or not called")
	}
	again := New(Opts{})
	got := append([]Event(nil), again.Fed(fed.FeedAt)...)
	for _, s := range rec.rows {
		if s.at.After(fed.FeedAt) {
			got = append(got, again.Add(s.at, s.height, s.temp)...)
		}
	}
	calls := callsOf(got)
	if len(calls) != 1 {
		t.Fatalf("%d calls after the restart, want 1", len(calls))
	}
	if d := calls[0].At.Sub(call.At).Abs(); d > 10*time.Minute {
		t.Errorf("the call after a restart is %v away", d)
	}
}

// TestNothing: neither nonsense nor silence makes a call.
func TestNothing(t *testing.T) {
	for name, y := range map[string]func(i int) float64{
		"missing":  func(int) float64 { return math.NaN() },
		"infinite": func(i int) float64 { return math.Inf(i%2*2 - 1) },
		"constant": func(int) float64 { return 42 },
		"wild":     func(i int) float64 { return float64(i*7919%400) - 200 },
		"huge":     func(i int) float64 { return 1e300 * float64(i%3-1) },
	} {
		d := New(Opts{})
		var events []Event
		for i := range 5000 {
			events = append(events, d.Add(starts.Add(time.Duration(i)*15*time.Second), y(i), math.NaN())...)
		}
		if c := callsOf(events); len(c) > 0 {
			t.Errorf("%s: %d calls", name, len(c))
		}
		if _, ok := d.Forecast(); ok {
			t.Errorf("%s: a forecast was given", name)
		}
		d.Status()
	}
}

// TestConstantMemory: a year of readings allocates nothing but the feeds.
func TestNoAllocation(t *testing.T) {
	rec := single(families[1], 22)
	d := New(Opts{})
	d.Fed(rec.rows[0].at)
	i, half := 0, len(rec.rows)/4
	for ; i < half; i++ {
		d.Add(rec.rows[i].at, rec.rows[i].height, rec.rows[i].temp)
	}
	n := testing.AllocsPerRun(half, func() {
		d.Add(rec.rows[i].at, rec.rows[i].height, rec.rows[i].temp)
		i++
	})
	if n > 0 {
		t.Errorf("%v allocations a reading, want none", n)
	}
}
