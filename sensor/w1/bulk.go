package w1

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"leavend/sensor/internal/blocking"
)

// Bulk lets all probes on one bus convert at the same time: eight probes then
// take 750 ms together instead of six seconds. It needs a kernel of 5.10 or
// later and the right to write the bus's file therm_bulk_read; where either is
// missing, the probes convert one by one.
type Bulk struct {
	bus control

	mu      sync.Mutex      // guards what follows
	waiting map[string]bool // probes whose part of the last conversion is unread
	done    time.Time       // when the last conversion was over
}

// control is what bulk conversion needs of the kernel; tests put another here.
type control interface {
	Trigger() error
	Converting() (bool, error)
}

// NewBulk returns the bulk conversion of a bus, such as w1_bus_master1, below
// the given folder of devices; an empty folder means Root.
func NewBulk(root, bus string) *Bulk {
	if root == "" {
		root = Root
	}
	return &Bulk{
		bus:     sysfs(filepath.Join(root, filepath.Base(bus), "therm_bulk_read")),
		waiting: map[string]bool{},
	}
}

// join makes a probe a member, so that it gets its part of each conversion.
func (b *Bulk) join(id string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.waiting[id] = false
}

// convert makes sure that a fresh conversion waits for the probe: the one that
// another probe started, or a new one for all. It returns when that conversion
// was over. ok is false when the probe has to convert by itself.
func (b *Bulk) convert(id string) (done time.Time, ok bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.waiting[id] || time.Since(b.done) > blocking.Stale {
		if !b.trigger() {
			return time.Time{}, false
		}
	}
	b.waiting[id] = false
	return b.done, true
}

// trigger starts a conversion and waits for its end.
func (b *Bulk) trigger() bool {
	if err := b.bus.Trigger(); err != nil {
		return false
	}
	// A probe at 12 bits takes 750 ms; twice that is no longer a conversion.
	for range 75 {
		converting, err := b.bus.Converting()
		if err != nil {
			return false
		}
		if !converting {
			b.finish()
			return true
		}
		time.Sleep(20 * time.Millisecond)
	}
	return false
}

// finish notes that every member has a result to read.
func (b *Bulk) finish() {
	for id := range b.waiting {
		b.waiting[id] = true
	}
	b.done = time.Now()
}

// sysfs is the kernel's file therm_bulk_read.
type sysfs string

// Trigger starts a conversion. It never creates the file: a kernel either has
// it or not.
func (p sysfs) Trigger() error {
	f, err := os.OpenFile(string(p), os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString("trigger\n")
	return errors.Join(err, f.Close())
}

// Converting reads the file: -1 while a probe converts, 1 once all are done.
func (p sysfs) Converting() (bool, error) {
	text, err := os.ReadFile(string(p))
	return strings.TrimSpace(string(text)) == "-1", err
}
