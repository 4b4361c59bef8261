package store

import (
	"context"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"
)

// TestRunCommitsOnceAMinute runs the writer under virtual time.
func TestRunCommitsOnceAMinute(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.db")
	synctest.Test(t, func(t *testing.T) {
		s := reopen(t, path, SteadyClock(time.Now, "boot"))
		ctx, cancel := context.WithCancel(context.Background())
		done := make(chan error)
		go func() { done <- s.Run(ctx) }()
		add := func(n int) {
			for range n {
				s.Readings.Add(Reading{"Bramble", Distance, time.Now(), 100})
				time.Sleep(10 * time.Second)
			}
		}
		expect := func(written, buffered int) {
			t.Helper()
			synctest.Wait()
			if st := s.Stats(); st.Written != written || st.Buffered != buffered || st.Failed != 0 {
				t.Fatalf("at %v: %+v, want %d written, %d buffered", time.Now(), st, written, buffered)
			}
		}
		add(5)
		expect(0, 5)
		add(1)
		time.Sleep(time.Second)
		expect(6, 0)
		add(3)
		expect(6, 3)

		// A simulation at high speed does not wait for the minute.
		for range kickAt {
			s.Readings.Add(Reading{"Pilot", Distance, time.Now(), 100})
		}
		time.Sleep(time.Millisecond)
		if st := s.Stats(); st.Written < kickAt {
			t.Errorf("%+v, want %d written at once", st, kickAt)
		}
		add(2)
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		expect(6+3+kickAt+2, 0)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
}

// TestReadersDoNotHoldUpWriters keeps every connection for reading busy; a
// feed must be stored all the same.
func TestReadersDoNotHoldUpWriters(t *testing.T) {
	s, w := newTestStore(t)
	fill(s, w, "Bramble", 2000)
	flush(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	const readers = 12
	reading, ended := make(chan struct{}, readers), make(chan struct{}, readers)
	for range readers {
		go func() {
			defer func() { ended <- struct{}{} }()
			first := true
			for _, err := range s.Readings.ReadingsSince(ctx, "Bramble", epoch) {
				if err != nil {
					return
				}
				if first {
					reading <- struct{}{}
					<-ctx.Done()
				}
				first = false
			}
		}()
	}
	for range 8 { // as many as there are connections
		<-reading
	}
	if _, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
		t.Error(err)
	}
	fill(s, w, "Bramble", 10)
	flush(t, s)
	cancel()
	for range readers {
		<-ended
	}
}
