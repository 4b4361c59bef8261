package check

import (
	"context"
	"fmt"
	"os"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
)

// checkHistory reads each row of the store, if there is one.
func checkHistory(ctx context.Context, c *config.Config) []Result {
	const topic = "history"
	path := c.Store.File
	if _, err := os.Stat(path); err != nil {
		return nil // the first start makes it; whether it can is checked with the disk
	}
	s, _, err := store.Open(ctx, path, store.Opts{ReadOnly: true})
	if err != nil {
		return []Result{{Topic: topic, Level: Warn, Says: fmt.Sprintf("%v.", err),
			Do: "run the check as the service's user: sudo -u leavend leavend check; if the file is damaged, the next start repairs it or sets it aside"}}
	}
	defer s.Close()
	var first *store.BadRow
	bad := 0
	rows, err := s.Verify(ctx, func(b store.BadRow) {
		if bad++; first == nil {
			first = &b
		}
	})
	switch {
	case err != nil:
		return []Result{{Topic: topic, Level: Warn, Says: fmt.Sprintf("%s is damaged: %v.", path, err),
			Do: "restart leavend, which sets it aside and saves what can be read; or go back to a backup: leavend restore FILE"}}
	case bad > 0:
		return []Result{{Topic: topic, Level: Warn, Says: fmt.Sprintf("%d of the %d rows in %s cannot be read; the first is %s.", bad, rows, path, first),
			Do: "restart leavend: it keeps them aside and goes on with the rest; have a look at the card, on which a bit has changed"}}
	}
	return []Result{{Topic: topic, Level: Pass, Says: fmt.Sprintf("all %d rows of %s can be read.", rows, path)}}
}
