package store

import (
	"errors"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

var (
	// ErrNotFound says that there is no such entry.
	ErrNotFound = errors.New("no such entry")
	// ErrImported says that the same recording was imported before.
	ErrImported = errors.New("this recording was imported before")
	// ErrFuture says that something is dated later than [event.Ahead] from now.
	ErrFuture = errors.New("that moment has not come yet")
	// ErrRemoved says that the file is no longer where it was opened: somebody
	// removed, moved or replaced it.
	ErrRemoved error = &failure.Refusal{Code: "storage", Say: text.Say("alarm.storage.removed")}
	// ErrReadOnly says that the store was opened for reading only.
	ErrReadOnly = errors.New("opened for reading only")
)
