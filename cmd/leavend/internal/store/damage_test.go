package store

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/sensor/sim/simtest"
)

// wholeStore makes a store with something of everything, closes it, and
// returns its path and what is in it.
func wholeStore(t *testing.T, w *handClock) (path string, rs []Reading, feeds int) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "leavend.db")
	s := reopen(t, path, w)
	for i := range 30 {
		if _, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now(), KeptG: float64(i), Note: strings.Repeat("all of it was very lively ", 20)}); err != nil {
			t.Fatal(err)
		}
		rs = append(rs, fill(s, w, "Bramble", 120)...)
		flush(t, s)
		feeds++
	}
	if _, err := s.Journal.AddEvent(t.Context(), Event{Vessel: "Bramble", At: w.Now(), Kind: "peak", Data: []byte(`{}`)}); err != nil {
		t.Fatal(err)
	}
	if err := s.Journal.CorrectFeed(t.Context(), Feed{ID: 1, Source: Marked}); err != nil {
		t.Fatal(err)
	}
	if err := s.States.SetSetting(t.Context(), "setpoint_c", 26); err != nil {
		t.Fatal(err)
	}
	if err := s.States.SetState(t.Context(), "mat", map[string]bool{"latched": true}); err != nil {
		t.Fatal(err)
	}
	if err := s.EventLog.SaveLog(t.Context(), event.Saved{Number: 1, Records: []event.Record{{Seq: 1, To: "phone", Body: []byte(`{"kind":"top"}`)}}}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path, rs, feeds
}

// garble overwrites a page with noise; page 0 is the first.
func garble(t *testing.T, path string, page int64, rng *rand.Rand) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	noise := make([]byte, 4096)
	for i := range noise {
		noise[i] = byte(rng.Uint32())
	}
	if _, err := f.WriteAt(noise, page*4096); err != nil {
		t.Fatal(err)
	}
}

// openDamaged opens a damaged store; that must succeed with a Report.
func openDamaged(t *testing.T, path string, w *handClock) (*Store, Report) {
	t.Helper()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, report, err := Open(t.Context(), path, Opts{Clock: w})
	if err != nil {
		t.Fatal(err)
	}
	if report.OK() {
		return s, report
	}
	aside, err := os.ReadFile(report.SetAside)
	if err != nil || !bytes.Equal(before, aside) {
		t.Errorf("the file set aside is not the damaged one: %d and %d bytes, %v", len(before), len(aside), err)
	}
	return s, report
}

// TestDamagedPages garbles pages in turn, from the second on: some, or all of
// them with STORE_ALL_PAGES=1. Where the
// check finds it, the rest must have been saved; the store must work in any
// case, and its rollups agree with the readings that are left.
func TestDamagedPages(t *testing.T) {
	simtest.NotUnderRace(t)
	w := newHandClock()
	path, rs, feeds := wholeStore(t, w)
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	pages := int64(len(sound) / 4096)
	found, saved := 0, 0
	stride := max(1, pages/6)
	if os.Getenv("STORE_ALL_PAGES") != "" {
		stride = 1
	}
	for page := int64(1); page < pages; page += stride {
		path := filepath.Join(t.TempDir(), "leavend.db")
		if err := os.WriteFile(path, sound, 0o644); err != nil {
			t.Fatal(err)
		}
		garble(t, path, page, rng)
		s, report := openDamaged(t, path, w)
		if report.OK() {
			s.Close()
			continue
		}
		found++
		got := readings(t, s, "Bramble", epoch.Add(-time.Hour))
		kept, err := s.Journal.Feeds(t.Context(), Query{})
		if err != nil {
			t.Fatal(err)
		}
		// One page of 4 KiB holds at most 40 blocks of a few minutes, or 7
		// feeds; an inner page loses more. Most cases must lose little.
		if len(got) >= len(rs)*8/10 && len(kept) >= feeds-10 {
			saved++
		}
		// Rollups may know of readings that are lost, never of fewer.
		win, err := s.Readings.Window(t.Context(), "Bramble", epoch.Add(-time.Hour), epoch.AddDate(0, 0, 9), 2000)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, p := range win.Points {
			for _, st := range p.Stats {
				n += st.N
			}
		}
		if n < len(got) || n > len(rs) {
			t.Errorf("page %d: the window sums up %d readings; %d are left of %d", page, n, len(got), len(rs))
		}
		if _, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
			t.Errorf("page %d: %v", page, err)
		}
		if !strings.Contains(report.String(), report.SetAside) {
			t.Errorf("the report does not say where the file is: %s", report)
		}
		s.Close()
		s = reopen(t, path, w) // is sound now
		s.Close()
	}
	t.Logf("of the pages garbled %d were found damaged, %d of those lost little", found, saved)
	if found < 4 || saved < found*2/3 {
		t.Errorf("of the pages garbled %d were found damaged, only %d of those lost little", found, saved)
	}
}

func TestDamagedFiles(t *testing.T) {
	simtest.NotUnderRace(t)
	tests := []struct {
		name  string
		spoil func(t *testing.T, path string)
		saved bool // whether feeds can be saved
	}{
		{"the first page is noise", func(t *testing.T, path string) { garble(t, path, 0, rand.New(rand.NewPCG(5, 6))) }, true},
		{"cut off near its end", func(t *testing.T, path string) { cutTo(t, path, 0.8) }, true},
		{"cut off after 1,000 bytes", func(t *testing.T, path string) { os.Truncate(path, 1000) }, false},
		{"all zeroes", func(t *testing.T, path string) { os.WriteFile(path, make([]byte, 50_000), 0o644) }, false},
		{"the log is noise", func(t *testing.T, path string) {
			os.WriteFile(path+"-wal", bytes.Repeat([]byte{7, 0, 42}, 30_000), 0o644)
		}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := newHandClock()
			path, _, _ := wholeStore(t, w)
			tt.spoil(t, path)
			s, report := openDamaged(t, path, w)
			feeds, err := s.Journal.Feeds(t.Context(), Query{})
			if err != nil || tt.saved != (len(feeds) > 0) {
				t.Errorf("%d feeds saved, %v; %v", len(feeds), err, report)
			}
			if _, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
				t.Error(err)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			reopen(t, path, w).Close()
		})
	}
}

// cutTo truncates a file to a share of its length.
func cutTo(t *testing.T, path string, share float64) {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, int64(float64(info.Size())*share)); err != nil {
		t.Fatal(err)
	}
}

// TestOthersFilesAreLeftAlone points the store at files that are not its own.
func TestOthersFilesAreLeftAlone(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "leavend.toml")
	os.WriteFile(text, bytes.Repeat([]byte("units = \"metric\"\n"), 400), 0o644)
	other := filepath.Join(dir, "other.db")
	db := dbfile.Connect(other, 1)
	if _, err := db.Exec(`CREATE TABLE recipe (name TEXT)`); err != nil {
		t.Fatal(err)
	}
	db.Close()
	for _, path := range []string{text, other} {
		before, _ := os.ReadFile(path)
		_, _, err := Open(t.Context(), path, Opts{})
		if err == nil {
			t.Errorf("%s was opened", path)
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", path)
		}
	}
}

// TestOddPaths keeps a store under a name that a URI would read otherwise.
func TestOddPaths(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a jar? of 100% rye #1 & more", "leavend.db")
	s := reopen(t, path, newHandClock())
	defer s.Close()
	if err := s.States.SetState(t.Context(), "x", 1); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
}

func TestNewerFilesAreLeftAlone(t *testing.T) {
	w := newHandClock()
	path, _, _ := wholeStore(t, w)
	db := dbfile.Connect(path, 1)
	db.Exec(`CREATE TABLE newer (id INTEGER); PRAGMA user_version = 99`)
	db.Close()
	if _, _, err := Open(t.Context(), path, Opts{Clock: w}); err == nil || !strings.Contains(err.Error(), "newer") {
		t.Errorf("a file of schema 99: %v", err)
	}
}

// TestSecondProcess starts a real second process on an open store.
func TestSecondProcess(t *testing.T) {
	s, w := newTestStore(t)
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "STORE_VICTIM="+s.Path())
	out, err := cmd.CombinedOutput()
	if err == nil || !strings.Contains(string(out), "in use by process") {
		t.Errorf("the second process says %q, %v", out, err)
	}
	_, _, err = Open(t.Context(), s.Path(), Opts{Clock: w})
	var inUse *dbfile.InUseError
	if !errors.As(err, &inUse) {
		t.Errorf("a second open in this process: %v", err)
	}
	if _, err := s.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
		t.Error("the first no longer works:", err)
	}
}
