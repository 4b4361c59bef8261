package check

import (
	"context"
	"log/slog"
	"os"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
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
		return []Result{warn(topic, "check.history.unopened", text.Cause("err", err))}
	}
	defer s.Close()
	var first *store.BadRow
	bad := 0
	all, err := s.Copies.Verify(ctx, func(b store.BadRow) {
		if bad++; first == nil {
			first = &b
		}
	})
	file, rows := text.Name("file", path), text.Count("rows", int(all))
	switch {
	case err != nil:
		return []Result{warn(topic, "check.history.damaged", file, text.Cause("err", err))}
	case bad > 0:
		return []Result{warn(topic, "check.history.bad_rows", text.Count("bad", bad), rows, file, text.Name("first", first.String()))}
	}
	return append([]Result{pass(topic, "check.history.good", rows, file)}, checkWander(ctx, c, s)...)
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
		says, do := hardware.Wander(status)
		r := warn("sensor "+v.Distance, "check.sensor.wanders_over", text.Name("name", v.Name), text.Sub("says", says))
		r.Do = do
		out = append(out, r)
	}
	return out
}
