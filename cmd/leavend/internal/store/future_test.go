package store

import (
	"errors"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// What is dated further ahead than a phone's clock may be wrong is refused, by
// whatever way it comes.
func TestRowsFromTheFuture(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	for _, tt := range []struct {
		name  string
		ahead time.Duration
		ok    bool
	}{
		{"now", 0, true}, {"a fast phone", event.Ahead, true}, {"too far", event.Ahead + time.Second, false}, {"a century", 100 * 365 * 24 * time.Hour, false},
	} {
		at := w.Now().Add(tt.ahead)
		if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: at}); tt.ok != (err == nil) || err != nil && !errors.Is(err, ErrFuture) {
			t.Errorf("%s: a feed at %v: %v", tt.name, at, err)
		}
		if err := s.Journal.CorrectFeed(ctx, Feed{ID: 1, At: at, Source: Marked}); tt.ok != (err == nil) {
			t.Errorf("%s: a feed corrected to %v: %v", tt.name, at, err)
		}
	}
	done, err := s.Copies.Import(ctx, "Pilot", "ahead", func(yield func(ImportRow, error) bool) {
		for _, d := range []time.Duration{-time.Hour, 0, time.Hour, 48 * time.Hour} {
			if !yield(ImportRow{At: w.Now().Add(d), Values: map[Channel]float64{Distance: 100}, Fed: true}, nil) {
				return
			}
		}
	})
	if err != nil || done.Rows != 2 || done.Feeds != 2 || done.Refused != 2 || !errors.Is(done.First, ErrFuture) {
		t.Errorf("an import: %+v, %v", done, err)
	}
	l, mqtt, _ := openLog(t, s)
	c := peaked(w, 1)
	c.Journal[0].At = w.Now().Add(time.Hour)
	if err := l.Commit(ctx, c); err != nil || len(mqtt.Waiting(w.Now())) != 1 || s.Stats().Unstorable != 1 {
		t.Errorf("an event from the future holds up the log: %v, %+v", err, s.Stats())
	}
}

// A feed from the future that an earlier release took does not count until then.
func TestLastFeedIsNotAfterNow(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	past, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.file.w.Exec(`UPDATE entry SET t = t + 86400000 * 365 * id WHERE id > 1`); err != nil {
		t.Fatal(err)
	}
	if f, ok, err := s.Journal.LastFeed(ctx, "Bramble"); !ok || err != nil || f.ID != past.ID {
		t.Errorf("the last feed is %+v, %v", f, err)
	}
	// A board without a clock chip starts in 1970, and still knows its feeds.
	w.reboot("boot 2", time.Unix(20, 0), false)
	if _, err := s.file.w.Exec(`UPDATE clock SET synced = 0`); err != nil {
		t.Fatal(err)
	}
	s.Close()
	s = reopen(t, s.Path(), w)
	defer s.Close()
	if f, ok, err := s.Journal.LastFeed(ctx, "Bramble"); !ok || err != nil {
		t.Errorf("in 1970 the last feed is %+v, %v", f, err)
	}
}
