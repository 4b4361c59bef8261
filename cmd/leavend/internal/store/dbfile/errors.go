package dbfile

import (
	"errors"
	"fmt"
	"syscall"

	"leavend/cmd/leavend/internal/failure"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// InUseError says that another process has the file open.
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

// Code returns SQLite's primary result code in err, 0 if there is none.
func Code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return 0
}

// Full marks an error of a full disk as [failure.ErrFull]. A full disk shows as
// SQLITE_FULL or, where a file cannot grow, as an I/O error on write.
func Full(err error) error {
	var e *sqlite.Error
	full := errors.Is(err, syscall.ENOSPC)
	if errors.As(err, &e) {
		c := e.Code()
		full = c == sqlite3.SQLITE_FULL || c == sqlite3.SQLITE_IOERR_WRITE || c == sqlite3.SQLITE_IOERR_SHMSIZE
	}
	if full && !errors.Is(err, failure.ErrFull) {
		return fmt.Errorf("%w: %w", failure.ErrFull, err)
	}
	return err
}

// damaged reports whether err says that the file itself is broken.
func damaged(err error) bool {
	c := Code(err)
	return c == sqlite3.SQLITE_CORRUPT || c == sqlite3.SQLITE_NOTADB || errors.Is(err, errDamaged)
}

var errDamaged = errors.New("integrity check failed")
