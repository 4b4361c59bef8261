package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestBackupWhileWriting(t *testing.T) {
	s, w := newTestStore(t)
	want := fill(s, w, "Bramble", 2000)
	file := filepath.Join(t.TempDir(), "copy.db")
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			default:
				s.Journal.AddFeed(t.Context(), Feed{Vessel: "Pilot", At: epoch})
			}
		}
	}()
	err := s.Copies.Backup(t.Context(), file)
	close(stop)
	<-stopped
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Copies.Backup(t.Context(), file); err == nil {
		t.Error("a backup was written over")
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(file), "*.part*")); left != nil {
		t.Errorf("left behind: %v", left)
	}
	c := reopen(t, file, w)
	defer c.Close()
	if diff := cmp.Diff(want, readings(t, c, "Bramble", epoch), oneTen); diff != "" {
		t.Error("(-want +got):", diff)
	}
}

// TestReadOnlyBesideARunningDaemon is what the backup and export commands do.
func TestReadOnlyBesideARunningDaemon(t *testing.T) {
	s, w := newTestStore(t)
	want := fill(s, w, "Bramble", 10)
	flush(t, s)
	r, _, err := Open(t.Context(), s.Path(), Opts{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if diff := cmp.Diff(want, readings(t, r, "Bramble", epoch), oneTen); diff != "" {
		t.Error("(-want +got):", diff)
	}
	if err := r.Copies.Backup(t.Context(), filepath.Join(t.TempDir(), "copy.db")); err != nil {
		t.Error(err)
	}
	if _, err := r.Journal.AddFeed(t.Context(), Feed{Vessel: "Bramble", At: epoch}); !errors.Is(err, ErrReadOnly) {
		t.Errorf("a feed through a reader: %v", err)
	}
	if _, _, err := Open(t.Context(), filepath.Join(t.TempDir(), "none.db"), Opts{ReadOnly: true}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("reading what is not there: %v", err)
	}
}
