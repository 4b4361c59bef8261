package daemon

import (
	"context"
	"fmt"
	"os"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/cmd/leavend/internal/web"
)

// restore goes back to the last nightly backup, from the page.
type restore struct {
	d     *Daemon
	again func(backup string) // starts the daemon again with a backup
}

// Offered returns the newest backup, if the history lost something when it was
// opened or is kept in memory only.
func (r restore) Offered() *web.BackupOffer {
	if !r.d.damaged {
		return nil
	}
	file, err := dbfile.NewestBackup(r.d.Conf.Store.BackupDir)
	if err != nil {
		return nil
	}
	info, err := os.Stat(file)
	if err != nil {
		return nil
	}
	return &web.BackupOffer{Made: info.ModTime().UTC().Truncate(time.Second)}
}

// Restore has the daemon start again with the newest backup. The history is in use
// until then, so it is replaced in between.
func (r restore) Restore(context.Context) error {
	file, err := dbfile.NewestBackup(r.d.Conf.Store.BackupDir)
	if err != nil {
		return &failure.Refusal{Code: "no-backup"}
	}
	r.d.Log.Warn("the page asks for the last backup; restarting", "backup", file)
	r.again(file)
	return nil
}

// RestoreBackup puts a backup in the place of a history that no daemon uses, and
// returns what a person must know: where the former one is, or why it could not be
// done. It changes nothing then.
func RestoreBackup(ctx context.Context, path, backup string) (said string, err error) {
	aside, err := store.Restore(ctx, path, backup)
	if err != nil {
		return "", fmt.Errorf("the last backup could not be put back: %w", err)
	}
	if aside == "" {
		return "the last backup is back: " + backup, nil
	}
	return fmt.Sprintf("the last backup is back: %s; what was there is kept as %s", backup, aside), nil
}
