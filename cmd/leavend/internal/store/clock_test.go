package store

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// year is how far the clock of these tests jumps.
const year = 365 * 24 * time.Hour

// TestClockJumps lets the wall clock jump in the middle of a curve. Whatever
// it does, no reading and no feed may be lost, their order and distances must
// stay, and times are those of the clock that is believed.
func TestClockJumps(t *testing.T) {
	tests := []struct {
		name   string
		synced bool // before
		by     time.Duration
		after  bool // synced after
		moved  time.Duration
	}{
		{"network time arrives and is a year later", false, year, true, year},
		{"network time arrives and is a year earlier", false, -year, true, -year},
		{"set by hand on a board without network", false, year, false, year},
		{"a good clock is set wrong by a year", true, year, false, 0},
		{"a good clock is set back by a year", true, -year, false, 0},
		{"network time corrects itself", true, -time.Hour, true, -time.Hour},
		{"a slow correction of a second", true, time.Second, true, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := newHandClock()
			w.synced = tt.synced
			s := reopen(t, filepath.Join(t.TempDir(), "x.db"), w)
			feed, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now()})
			if err != nil {
				t.Fatal(err)
			}
			w.pass(time.Second)
			want := fill(s, w, "Bramble", 200)
			flush(t, s)
			want = append(want, fill(s, w, "Bramble", 200)...) // not yet committed when it jumps
			w.jump(tt.by, tt.after)
			truth := tt.by // what readings after the jump are off by
			for _, r := range fill(s, w, "Bramble", 200) {
				r.At = r.At.Add(-truth)
				want = append(want, r)
			}
			flush(t, s)
			for i := range want {
				want[i].At = want[i].At.Add(tt.moved)
			}
			if tt.name == "a slow correction of a second" {
				// Readings with a wall clock a second on are placed by the
				// time since boot all the same.
				if got := readings(t, s, "Bramble", epoch.Add(-2*year)); len(got) != len(want) {
					t.Fatalf("%d readings, want %d", len(got), len(want))
				}
			}
			for restart := range 2 {
				got := readings(t, s, "Bramble", epoch.Add(-2*year))
				if diff := cmp.Diff(want, got, oneTen); diff != "" {
					t.Fatalf("restart %d (-want +got): %.2000s", restart, diff)
				}
				feeds, err := s.Journal.Feeds(t.Context(), Query{})
				if err != nil || len(feeds) != 1 || !feeds[0].At.Equal(feed.At.Add(tt.moved)) {
					t.Fatalf("feeds = %v, %v", feeds, err)
				}
				n := 0
				for _, err := range s.Readings.ReadingsSinceFeed(t.Context(), feeds[0]) {
					if err != nil {
						t.Fatal(err)
					}
					n++
				}
				if n != len(want) {
					t.Errorf("%d readings since the feed, want %d", n, len(want))
				}
				from := want[0].At.Add(-time.Minute)
				checkWindow(t, s, "Bramble", want, from, from.Add(3*time.Hour), 2000)
				if restart == 0 {
					s.Close()
					s = reopen(t, s.Path(), w)
				}
			}
			s.Close()
		})
	}
}

// TestFeedBeforeANewBoot checks that a curve survives a reboot into a wrong
// clock: the readings since the feed come in their order.
func TestFeedBeforeANewBoot(t *testing.T) {
	tests := []struct {
		name   string
		wall   time.Time // after the reboot
		synced bool
		want   time.Time // of the first reading then
	}{
		{"right clock", epoch.Add(3 * time.Hour), true, epoch.Add(3 * time.Hour)},
		{"no clock chip: 1970", time.Unix(0, 0), false, epoch.Add(1992 * time.Second)},
		{"clock an hour late after a power cut", epoch.Add(30 * time.Minute), false, epoch.Add(1992 * time.Second)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := newHandClock()
			path := filepath.Join(t.TempDir(), "x.db")
			s := reopen(t, path, w)
			feed, _ := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now()})
			before := fill(s, w, "Bramble", 200)
			s.Close()
			w.reboot("boot 2", tt.wall, tt.synced)
			s = reopen(t, path, w)
			defer s.Close()
			after := fill(s, w, "Bramble", 200)
			var got []Reading
			for r, err := range s.Readings.ReadingsSinceFeed(t.Context(), feed) {
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, r)
			}
			if len(got) != len(before)+len(after) {
				t.Fatalf("%d readings since the feed, want %d", len(got), len(before)+len(after))
			}
			if at := got[len(before)].At; !at.Equal(tt.want) {
				t.Errorf("the first reading after the boot is of %v, want %v", at, tt.want)
			}
			for i := 1; i < len(got); i++ {
				if got[i].At.Before(got[i-1].At) {
					t.Fatalf("reading %d at %v comes before %v", i, got[i].At, got[i-1].At)
				}
			}
		})
	}
}

// TestLateReadings sends readings that were taken hours ago, as a sensor on
// a bad radio does. They must stand in the rollups as well.
func TestLateReadings(t *testing.T) {
	s, w := newTestStore(t)
	all := fill(s, w, "Bramble", 4000)
	flush(t, s)
	for i := range 50 {
		r := Reading{"Bramble", Distance, epoch.Add(time.Duration(i) * 10 * time.Minute).Add(3 * time.Second), 20 + float64(i)}
		s.Readings.Add(r)
		all = append(all, r)
	}
	flush(t, s)
	all = append(all, fill(s, w, "Bramble", 100)...)
	for range 2 {
		checkWindow(t, s, "Bramble", all, epoch, epoch.Add(12*time.Hour), 100)
		checkWindow(t, s, "Bramble", all, epoch, epoch.AddDate(0, 0, 30), 2000)
		checkWindow(t, s, "Bramble", all, epoch, epoch.AddDate(0, 0, 400), 2000)
		s.Close()
		s = reopen(t, s.Path(), w)
	}
	s.Close()
}

// TestSystemClock looks at the real clock: its boot has a name and its uptime
// runs with the monotonic clock.
func TestSystemClock(t *testing.T) {
	c := SystemClock()
	if c.Boot() == "" || c.Boot() != SystemClock().Boot() {
		t.Errorf("boot is %q, then %q", c.Boot(), SystemClock().Boot())
	}
	began, up := time.Now(), c.Uptime()
	time.Sleep(5 * time.Millisecond)
	ran := c.Uptime() - up
	if took := time.Since(began); ran < 4*time.Millisecond || ran > took+time.Second {
		t.Errorf("uptime ran %v in %v", ran, took)
	}
	c.Synced() // must not fail without privilege
}

// A step of the clock that cannot be written costs no reading and doubles none:
// what was committed beside it is committed.
func TestStepThatCannotBeKept(t *testing.T) {
	s, w := newTestStore(t)
	defer s.Close()
	want := fill(s, w, "Bramble", 60)
	if _, err := s.file.w.ExecContext(t.Context(), `CREATE TRIGGER no_step BEFORE INSERT ON clock_step BEGIN SELECT RAISE(FAIL, 'no room'); END`); err != nil {
		t.Fatal(err)
	}
	w.jump(time.Hour, true)
	for range 3 {
		if err := s.Readings.Flush(t.Context()); err == nil {
			t.Fatal("a step that could not be kept was no error")
		}
	}
	if got := s.Stats(); got.Buffered != 0 || got.Failed != 3 {
		t.Errorf("%d readings wait after they were committed, %d failures", got.Buffered, got.Failed)
	}
	if _, err := s.file.w.ExecContext(t.Context(), `DROP TRIGGER no_step`); err != nil {
		t.Fatal(err)
	}
	if err := s.Readings.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := readings(t, s, "Bramble", epoch.Add(-24*time.Hour)); len(got) != len(want) {
		t.Errorf("%d readings, want %d", len(got), len(want))
	}
}
