package store

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store/dbfile"
)

// TestFullFile makes the file as full as if the disk were, by SQLite's own
// limit on its pages, which gives the same SQLITE_FULL. Adding must go on, the
// feed must be refused with a clear error, and all must be stored once there
// is room.
func TestFullFile(t *testing.T) {
	s, w := newTestStore(t)
	limitPages(t, s, 1) // SQLite makes this the present size
	fillsUp(t, s, w, func() { limitPages(t, s, 1<<20) })
}

// limitPages makes the file full at a number of pages.
func limitPages(t *testing.T, s *Store, pages int) {
	t.Helper()
	for _, db := range []*sql.DB{s.file.w, s.file.f} {
		if _, err := db.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages)); err != nil {
			t.Fatal(err)
		}
	}
}

// TestFullDisk fills a small file system of its own, where the system lets
// the test mount one.
func TestFullDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "disk")
	unmount, err := mountSmall(dir, 1<<20)
	if err != nil {
		t.Skip("cannot mount a small file system here:", err)
	}
	defer unmount()
	w := newHandClock()
	s := reopen(t, filepath.Join(dir, "x.db"), w)
	defer s.Close()
	ballast := filepath.Join(dir, "ballast")
	if err := fillDisk(ballast); err == nil {
		t.Fatal("the disk is not full")
	}
	fillsUp(t, s, w, func() { os.Remove(ballast) })
}

// fillDisk writes a file until there is no room.
func fillDisk(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	for size := 4096; ; {
		if _, err := f.Write(make([]byte, size)); err != nil {
			return err
		}
	}
}

// fillsUp writes until nothing more fits, makes room, and checks that nothing
// is missing.
func fillsUp(t *testing.T, s *Store, w *handClock, makeRoom func()) {
	t.Helper()
	var want []Reading
	var err error
	for range 200 {
		want = append(want, fill(s, w, "Bramble", 60)...)
		if err = s.Readings.Flush(t.Context()); err != nil {
			break
		}
	}
	if !errors.Is(err, failure.ErrFull) {
		t.Fatalf("it never filled: %v", err)
	}
	var feeds int
	for i := range 2000 {
		_, err = s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now(), Note: fmt.Sprint("a note of some length, to fill the file: ", i)})
		if err != nil {
			break
		}
		feeds++
	}
	if !errors.Is(err, failure.ErrFull) {
		t.Fatalf("feed on a full disk: %v", err)
	}
	want = append(want, fill(s, w, "Bramble", 600)...)
	s.Readings.Flush(t.Context())
	st := s.Stats()
	if st.Failed < 2 || !errors.Is(st.Failure, failure.ErrFull) || st.Dropped != 0 {
		t.Errorf("stats while full: %+v", st)
	}
	if diff := cmp.Diff(want, readings(t, s, "Bramble", epoch), oneTen); diff != "" {
		t.Errorf("while full (-want +got): %.1000s", diff)
	}
	makeRoom()
	if err := s.Readings.Flush(t.Context()); err != nil {
		t.Fatal("with room again:", err)
	}
	if st := s.Stats(); st.Buffered != 0 || st.Failed != 0 || st.Failure != nil {
		t.Errorf("stats with room again: %+v", st)
	}
	if diff := cmp.Diff(want, readings(t, s, "Bramble", epoch), oneTen); diff != "" {
		t.Errorf("with room again (-want +got): %.1000s", diff)
	}
	got, err := s.Journal.Feeds(t.Context(), Query{})
	if err != nil || len(got) != feeds {
		t.Errorf("%d feeds, want the %d acknowledged; %v", len(got), feeds, err)
	}
	checkWindow(t, s, "Bramble", want, epoch, epoch.Add(48*time.Hour), 2000)
	if found, err := dbfile.QuickCheck(t.Context(), s.file.r); found != "" || err != nil {
		t.Error("quick check:", found, err)
	}
}
