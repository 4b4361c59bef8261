package check

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/monitor"
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
	out := []Result{{Topic: topic, Level: Pass, Says: fmt.Sprintf("all %d rows of %s can be read.", rows, path)}}
	return append(out, checkWander(ctx, c, s)...)
}

// checkWander says which rangers wander too much for a sharp call, from the
// readings of each vessel's last feed: a few readings now would not show it.
func checkWander(ctx context.Context, c *config.Config, s *store.Store) (out []Result) {
	m := monitor.NewMonitor(c, event.NewClock(time.Now(), 1), slog.New(slog.DiscardHandler))
	m.Store = s
	for _, v := range c.Vessels {
		status, err := m.LastCurve(ctx, v)
		if err != nil || !status.Wanders() {
			continue // what cannot be read was told above
		}
		says, do := hardware.WanderText(status, c.Units == config.US)
		out = append(out, Result{Topic: "sensor " + v.Distance, Level: Warn, Says: fmt.Sprintf("the ranger over %s: %s", v.Name, says), Do: do})
	}
	return out
}
