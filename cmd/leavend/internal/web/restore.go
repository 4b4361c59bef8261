package web

import (
	"context"
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/failure"
)

// Restore goes back to the last backup of the history. It is offered while the
// history is damaged or cannot be kept.
type Restore interface {
	// Offered returns the backup to go back to; nil where none is offered.
	Offered() *BackupOffer
	// Restore sets the present history aside and has the daemon start again with
	// the backup, the mat off.
	Restore(ctx context.Context) error
}

// BackupOffer is a backup that one may go back to.
type BackupOffer struct {
	Made time.Time `json:"made"` // what was entered and read since is not in it
}

// restoreHandler goes back to a backup.
type restoreHandler struct{ restore Restore }

func (h restoreHandler) offered() *BackupOffer {
	if h.restore == nil {
		return nil
	}
	return h.restore.Offered()
}

func (h restoreHandler) postRestore(r *http.Request) error {
	if h.offered() == nil {
		return &failure.Refusal{Code: "no-backup"}
	}
	return h.restore.Restore(r.Context())
}
