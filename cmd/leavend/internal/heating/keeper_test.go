package heating

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/control"
)

// disk is a store whose disk may be full, or torn.
type disk struct {
	text       []byte
	full, torn bool
}

func (d *disk) State(_ context.Context, _ string, into any) (bool, error) {
	switch {
	case d.torn:
		return false, errors.New("it is no database")
	case d.text == nil:
		return false, nil
	}
	return true, json.Unmarshal(d.text, into)
}

func (d *disk) SetState(_ context.Context, _ string, v any) (err error) {
	if d.full {
		return errors.New("the disk is full")
	}
	d.text, err = json.Marshal(v)
	return err
}

var (
	latched  = control.Snapshot{Latched: []control.FaultKind{control.FaultVesselCutoff}}
	accepted = time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC)
)

// What one run kept, the next one knows, whatever was lost on the way: a fault
// that latched while the disk was full, and an off.
func TestMemoryOutlivesTheProcess(t *testing.T) {
	tests := []struct {
		name   string
		before func(*disk, string)             // before the fault
		after  func(*testing.T, *disk, string) // after the kill
		knows  bool
		forgot bool
	}{
		{name: "nothing is wrong", knows: true},
		{name: "the disk is full", before: func(d *disk, _ string) { d.full = true }, knows: true},
		{name: "the board restarts", after: remove, knows: true},
		{name: "the runtime folder takes nothing", before: func(_ *disk, file string) { _ = os.Mkdir(file, 0o755) }, knows: true},
		{name: "the runtime folder has an older word", before: func(_ *disk, file string) {
			if err := os.Rename(file, file+".old"); err != nil {
				panic(err)
			}
		}, after: func(t *testing.T, _ *disk, file string) {
			if err := os.Rename(file+".old", file); err != nil {
				t.Fatal(err)
			}
		}, knows: true},
		{name: "the store is torn", after: func(_ *testing.T, d *disk, _ string) { d.torn = true }, knows: true},
		{name: "the store is torn, and the board restarts", after: func(t *testing.T, d *disk, file string) { d.torn = true; remove(t, d, file) }, forgot: true},
		{name: "the runtime folder's copy is torn", after: func(t *testing.T, _ *disk, file string) {
			if err := os.WriteFile(file, []byte(`{"version":1,"memo`), 0o600); err != nil {
				t.Fatal(err)
			}
		}, knows: true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d, file := &disk{}, filepath.Join(t.TempDir(), "mat-memory.json")
			k := NewKeeper(file, slog.New(slog.DiscardHandler))
			k.Recall(t.Context(), d, false)
			if err := k.Change(t.Context(), func(m *Memory) { m.Accepted, m.Mode = accepted, control.Hold }); err != nil {
				t.Fatal(err)
			}
			if tt.before != nil {
				tt.before(d, file)
			}
			if err := k.Change(t.Context(), func(m *Memory) { m.Kept, m.Mode = latched, control.Off }); (err != nil) != d.full {
				t.Errorf("the change: %v", err)
			}
			if tt.after != nil {
				tt.after(t, d, file)
			}
			m, _, forgot := NewKeeper(file, slog.New(slog.DiscardHandler)).Recall(t.Context(), d, false)
			if knows := slices.Equal(m.Kept.Latched, latched.Latched) && m.Mode == control.Off && m.Accepted.Equal(accepted); knows != tt.knows || forgot != tt.forgot {
				t.Errorf("knows %v, forgot %v, want %v and %v: %+v", knows, forgot, tt.knows, tt.forgot, m)
			}
		})
	}
}

func remove(t *testing.T, _ *disk, file string) {
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
}

// A fresh data folder has no acceptance of the cautions, whatever the
// runtime folder has from another one; a fault counts all the same.
func TestFreshDataFolder(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mat-memory.json")
	k := NewKeeper(file, slog.New(slog.DiscardHandler))
	k.Recall(t.Context(), &disk{}, false)
	if err := k.Change(t.Context(), func(m *Memory) { m.Accepted, m.Mode, m.Kept = accepted, control.Hold, latched }); err != nil {
		t.Fatal(err)
	}
	m, _, forgot := NewKeeper(file, slog.New(slog.DiscardHandler)).Recall(t.Context(), &disk{}, false)
	if m.MayHeat() || forgot || len(m.Kept.Latched) != 1 {
		t.Errorf("forgot %v: %+v", forgot, m)
	}
}

// What a run learns whose store cannot be opened counts in the next one, in
// which the old store opens again.
func TestStoreThatComesBack(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mat-memory.json")
	old := &disk{text: []byte(`{"saves":57,"kept":{},"mode":"hold","cautions_accepted_at":"2026-01-01T08:00:00Z"}`)}
	k := NewKeeper(file, slog.New(slog.DiscardHandler))
	if _, _, forgot := k.Recall(t.Context(), &disk{}, true); !forgot {
		t.Error("nothing was lost")
	}
	k.Saved(latched)
	m, _, _ := NewKeeper(file, slog.New(slog.DiscardHandler)).Recall(t.Context(), old, false)
	if len(m.Kept.Latched) != 1 {
		t.Errorf("the fault is gone: %+v", m)
	}
}

// A change that only one copy took reaches the other as soon as that can be,
// and trouble is told once, not with each second's try.
func TestKeeperTriesAgain(t *testing.T) {
	var log bytes.Buffer
	d, file := &disk{full: true}, filepath.Join(t.TempDir(), "mat-memory.json")
	k := NewKeeper(file, slog.New(slog.NewTextHandler(&log, nil)))
	k.Recall(t.Context(), d, false)
	for range 5 {
		if err := k.Change(t.Context(), func(m *Memory) { m.Held = true }); err == nil {
			t.Error("a full disk is no error")
		}
	}
	if n := strings.Count(log.String(), "could not be stored"); n != 1 {
		t.Errorf("told %d times:\n%s", n, log.String())
	}
	d.full = false
	if err := k.Change(t.Context(), func(*Memory) {}); err != nil {
		t.Error(err)
	}
	var m Memory
	if _, err := d.State(t.Context(), "", &m); err != nil || !m.Held || m.Saves != 1 {
		t.Errorf("the store has %+v, %v", m, err)
	}
}

// The cautions of an older store were accepted by no one that can be named.
func TestOldAcceptanceDoesNotCount(t *testing.T) {
	d := &disk{text: []byte(`{"kept":{},"mode":"hold","cautions_accepted":true,"setpoint_c":24}`)}
	m, _, forgot := NewKeeper(filepath.Join(t.TempDir(), "none"), slog.New(slog.DiscardHandler)).Recall(t.Context(), d, false)
	if m.MayHeat() || forgot || m.Setpoint != 24 {
		t.Errorf("forgot %v: %+v", forgot, m)
	}
}

// The age of what was kept is known while the board runs on, and not after.
func TestAge(t *testing.T) {
	boot, at := sinceBoot()
	if boot == "" {
		t.Skip("this machine does not say how long it runs")
	}
	if age := (fileForm{Boot: boot, At: at - time.Hour}).age(); age < time.Hour || age > time.Hour+time.Minute {
		t.Errorf("an hour is %v", age)
	}
	if age := (fileForm{Boot: "another", At: at - time.Hour}).age(); age != 0 {
		t.Errorf("over a restart of the board it is %v", age)
	}
}

// What merely counts up reaches the runtime folder at once and the store every
// ten minutes, and all of it at the end. Nothing is written before the last
// run's word was read.
func TestCountsAreSpared(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mat-memory.json")
	synctest.Test(t, func(t *testing.T) {
		d := &disk{}
		k := NewKeeper(file, slog.New(slog.DiscardHandler))
		k.Saved(latched)
		if _, err := os.Stat(file); err == nil {
			t.Fatal("the last run's word was written over")
		}
		k.Recall(t.Context(), d, false)
		run := func(want int) {
			t.Helper()
			var m Memory
			if _, err := d.State(t.Context(), "", &m); err != nil || m.Kept.RunS != want {
				t.Errorf("the store has %d s, %v, want %d", m.Kept.RunS, err, want)
			}
		}
		for i := range 25 {
			k.Saved(control.Snapshot{RunS: 60 * i})
			if err := k.Change(t.Context(), func(*Memory) {}); err != nil {
				t.Fatal(err)
			}
			if f, err := readFile(file); err != nil || f.Memory.Kept.RunS != 60*i {
				t.Fatalf("the file has %+v, %v", f, err)
			}
			time.Sleep(time.Minute)
		}
		run(20 * 60)
		if err := k.Flush(t.Context()); err != nil {
			t.Fatal(err)
		}
		run(24 * 60)
	})
}
