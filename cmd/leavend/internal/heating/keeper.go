package heating

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"

	"leavend/control"
)

// Store is where the memory lasts over a restart of the board.
type Store interface {
	State(ctx context.Context, name string, value any) (bool, error)
	SetState(ctx context.Context, name string, value any) error
}

// stateName is the memory's name in the store.
const stateName = "mat"

// storeEvery is how often the store takes what merely counts up while the mat
// is on: a memory card wears out with every write. The runtime folder's copy is
// newer, and a fault is stored at once.
const storeEvery = 10 * time.Minute

// afterLoss is what the count of changes goes on from where it is not known:
// what this run learns must count as newer than a store that opens again.
const afterLoss = 1 << 32

// savedWithin is how long the mat's control loop may wait for the runtime
// folder, which is in memory unless somebody has set it up otherwise.
const savedWithin = 50 * time.Millisecond

// Keeper keeps the memory twice: in a file in the runtime folder, which is in
// memory and takes a write when the disk is full or slow, and in the store.
type Keeper struct {
	file  string
	log   *slog.Logger
	store Store // nil before Recall

	mu  sync.Mutex // guards now
	now Memory

	saving   atomic.Bool // Saved waits for the file
	fileMu   sync.Mutex  // held while the file is written
	filed    copyState
	keepMu   sync.Mutex // held while the store is written; it may take long
	stored   copyState
	storedAt time.Time
}

// copyState is what one of the two copies holds.
type copyState struct {
	memory  Memory
	has     bool
	trouble string // why it does not hold what is known now; told once
}

// NewKeeper returns a keeper that knows nothing yet, and keeps nothing before
// Recall.
func NewKeeper(file string, log *slog.Logger) *Keeper { return &Keeper{file: file, log: log} }

// Recall reads what the last run kept. Of two copies the newer one counts.
// Forgot says that something was known and is lost: then nothing is known of a
// fault or of the baker's own off. Away is for how long at least nothing ran
// since, by the clock that counts since the board started; 0 if that is not
// known.
func (k *Keeper) Recall(ctx context.Context, store Store, lost bool) (m Memory, away time.Duration, forgot bool) {
	known, err := store.State(ctx, stateName, &m)
	if err != nil {
		k.log.Error("what was known of the mat cannot be read", "err", err)
		m = Memory{}
	}
	forgot = err != nil || lost && !known
	k.stored = copyState{memory: m, has: known && err == nil}
	filed, err := readFile(k.file)
	switch {
	case err == nil && (filed.Memory.Saves >= m.Saves || forgot):
		m, away = filed.Memory, filed.age()
		k.filed = copyState{memory: m, has: true}
		if !known && !forgot {
			// The data folder is a fresh one: what the mat has done still counts,
			// and no caution was accepted for it.
			m.Accepted, m.Mode = time.Time{}, control.Off
		}
		forgot = false
	case err != nil && !errors.Is(err, os.ErrNotExist):
		k.log.Error("what was known of the mat cannot be read", "err", err)
	}
	if forgot {
		m = Memory{Saves: m.Saves + afterLoss}
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.store, k.now = store, m
	return m, away, forgot
}

// Memory returns what is known now.
func (k *Keeper) Memory() Memory {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.now
}

// Change changes what is known, and has both copies hold it before it returns.
// The error says why the store does not; the change is made all the same, and
// the next call tries again. The function must not call the mat.
func (k *Keeper) Change(ctx context.Context, change func(*Memory)) error {
	k.change(change)
	k.writeFile()
	return k.writeStore(ctx, false)
}

func (k *Keeper) change(change func(*Memory)) {
	k.mu.Lock()
	defer k.mu.Unlock()
	next := k.now
	change(&next)
	if !next.same(k.now) {
		next.Saves++
		k.now = next
	}
}

// Saved takes what the mat's control wants to outlive the process. The runtime
// folder's copy holds it when it returns, unless that takes longer than the
// control loop may wait; the store follows with the next Change.
func (k *Keeper) Saved(s control.Snapshot) {
	if k.store == nil {
		return // the last run's word was not read yet, and must not be written over
	}
	k.change(func(m *Memory) { m.Kept = s })
	if !k.saving.CompareAndSwap(false, true) {
		return
	}
	done := make(chan struct{})
	go func() {
		k.writeFile()
		k.saving.Store(false)
		close(done)
	}()
	select {
	case <-done:
	case <-time.After(savedWithin):
	}
}

// Flush has the store hold all that is known, for the end.
func (k *Keeper) Flush(ctx context.Context) error { return k.writeStore(ctx, true) }

// writeFile brings the runtime folder's copy up to date.
func (k *Keeper) writeFile() {
	k.fileMu.Lock()
	defer k.fileMu.Unlock()
	m := k.Memory()
	if k.filed.has && m.same(k.filed.memory) {
		return
	}
	err := saveFile(k.file, m)
	if k.filed.failedNewly(m, err) {
		k.log.Error("what is known of the mat could not be written to the runtime folder", "err", err)
	}
}

// writeStore brings the store's copy up to date, as far as that is due.
func (k *Keeper) writeStore(ctx context.Context, all bool) error {
	k.keepMu.Lock()
	defer k.keepMu.Unlock()
	m := k.Memory()
	if !all && !k.due(m) || k.stored.has && m.same(k.stored.memory) {
		return nil
	}
	kept := m
	kept.Kept.Model = nil // of use within minutes only, and ten times as long as the rest
	err := k.store.SetState(ctx, stateName, kept)
	if k.stored.failedNewly(m, err) {
		k.log.Error("what is known of the mat could not be stored", "err", err)
	}
	if err == nil {
		k.storedAt = time.Now()
	}
	return err
}

// due reports whether the store has to hold m now: at once, unless no more than
// counts have changed.
func (k *Keeper) due(m Memory) bool {
	grave := func(m Memory) Memory {
		m.Kept, m.Energy = control.Snapshot{Latched: m.Kept.Latched}, nil
		return m
	}
	return !k.stored.has || !grave(m).same(grave(k.stored.memory)) || time.Since(k.storedAt) >= storeEvery
}

// failedNewly notes what came of a write, and reports whether it failed in a way
// that was not told yet.
func (c *copyState) failedNewly(m Memory, err error) bool {
	if err == nil {
		*c = copyState{memory: m, has: true}
		return false
	}
	news := err.Error() != c.trouble
	c.trouble = err.Error()
	return news
}

// fileForm is the runtime folder's copy.
type fileForm struct {
	Version int           `json:"version"` // 1
	Boot    string        `json:"boot"`    // of the board, as the kernel names it
	At      time.Duration `json:"at_ns"`   // since that boot
	Memory  Memory        `json:"memory"`
}

// age is for how long nothing was written; 0 where the board has started since.
func (f fileForm) age() time.Duration {
	boot, at := sinceBoot()
	if boot == "" || boot != f.Boot {
		return 0
	}
	return max(at-f.At, 0)
}

// sinceBoot names this run of the board, and says how long it has lasted.
func sinceBoot() (boot string, at time.Duration) {
	id, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	var ts unix.Timespec
	if err != nil || unix.ClockGettime(unix.CLOCK_BOOTTIME, &ts) != nil {
		return "", 0
	}
	return strings.TrimSpace(string(id)), time.Duration(ts.Nano())
}

func readFile(path string) (fileForm, error) {
	var f fileForm
	b, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(b, &f)
	}
	if err == nil && f.Version != 1 {
		err = fmt.Errorf("it is of version %d", f.Version)
	}
	if err != nil {
		return fileForm{}, fmt.Errorf("%s: %w", path, err)
	}
	return f, nil
}

func saveFile(path string, m Memory) error {
	boot, at := sinceBoot()
	b, err := json.Marshal(fileForm{Version: 1, Boot: boot, At: at, Memory: m})
	if err != nil {
		return err
	}
	return WriteFile(path, append(b, '\n'))
}

// Acknowledged stores that the faults in kept are acknowledged, for a daemon
// that does not run.
func (k *Keeper) Acknowledged(ctx context.Context, kept control.Snapshot) error {
	err := k.Change(ctx, func(m *Memory) { m.Kept = kept })
	if k.filed.trouble != "" {
		err = errors.Join(err, errors.New(k.filed.trouble))
	}
	return err
}
