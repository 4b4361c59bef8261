package store

import (
	"errors"
	"fmt"
	"syscall"

	"leavend/cmd/leavend/internal/failure"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

var (
	// ErrFull says that the disk has no room. Nothing of the call was stored.
	ErrFull = failure.ErrFull
	// ErrNotFound says that there is no such entry.
	ErrNotFound = errors.New("no such entry")
	// ErrImported says that the same recording was imported before.
	ErrImported = errors.New("this recording was imported before")
	// ErrFuture says that something is dated later than [event.Ahead] from now.
	ErrFuture = errors.New("that moment has not come yet")
	// ErrRemoved says that the file is no longer where it was opened: somebody
	// removed, moved or replaced it.
	ErrRemoved error = &failure.Refusal{Code: "storage", Why: "the file of the history was removed or replaced while leavend runs; put it back, or restart leavend"}
	// ErrReadOnly says that the store was opened for reading only.
	ErrReadOnly = errors.New("opened for reading only")
)

// InUseError says that another process has the store open.
type InUseError struct {
	Path   string
	Holder string // its process id, if known
}

func (e *InUseError) Error() string {
	who := "another process"
	if e.Holder != "" {
		who = "process " + e.Holder
	}
	return fmt.Sprintf("store %s: in use by %s; stop it first (is leavend running?)", e.Path, who)
}

// code returns SQLite's primary result code in err, 0 if there is none.
func code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return 0
}

// full marks an error of a full disk as ErrFull. A full disk shows as
// SQLITE_FULL or, where a file cannot grow, as an I/O error on write.
func full(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		if errors.Is(err, syscall.ENOSPC) {
			return fmt.Errorf("%w: %w", ErrFull, err)
		}
		return err
	}
	switch e.Code() {
	case sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_IOERR_SHMSIZE:
		return fmt.Errorf("%w: %w", ErrFull, err)
	}
	return err
}

// damaged reports whether err says that the file itself is broken.
func damaged(err error) bool {
	c := code(err)
	return c == sqlite3.SQLITE_CORRUPT || c == sqlite3.SQLITE_NOTADB || errors.Is(err, errDamaged)
}

var errDamaged = errors.New("integrity check failed")
