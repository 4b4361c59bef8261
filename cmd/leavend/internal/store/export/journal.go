package export

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"leavend/cmd/leavend/internal/store"
	"time"
)

// Journal writes the journal as one JSON object: what there is of each kind of
// entry, newest first and one a line, then what entries were before corrections,
// and settings with their former values. now is when it is written.
func Journal(ctx context.Context, s *store.Store, w io.Writer, q store.Query, now time.Time) error {
	b := bufio.NewWriter(w)
	x := &object{w: b}
	fmt.Fprintf(b, "{\n\"format\": \"leavend journal 1\",\n\"exported\": %q", now.UTC().Format("2006-01-02T15:04:05Z07:00"))
	list(x, "feeds", func() ([]store.Feed, error) { return s.Journal.Feeds(ctx, q) })
	list(x, "events", func() ([]store.Event, error) { return s.Journal.Events(ctx, q) })
	list(x, "forecasts", func() ([]store.Forecast, error) { return s.Journal.Forecasts(ctx, q) })
	list(x, "bakes", func() ([]store.Bake, error) { return s.Journal.Bakes(ctx, q) })
	list(x, "discards", func() ([]store.DiscardMove, error) { return s.Journal.Discards(ctx, q) })
	list(x, "curves", func() ([]store.Curve, error) { return s.Journal.Curves(ctx, q) })
	list(x, "starters", func() ([]store.NewStarter, error) { return s.Journal.Starters(ctx, q) })
	list(x, "revisions", func() ([]store.Revision, error) { return s.Journal.Revisions(ctx) })
	list(x, "settings", func() ([]store.Setting, error) { return s.States.Settings(ctx) })
	fmt.Fprint(b, "\n}\n")
	if x.err == nil {
		x.err = b.Flush()
	}
	if x.err != nil {
		return fmt.Errorf("store: export journal: %w", x.err)
	}
	return nil
}

// object carries the first error.
type object struct {
	w   io.Writer
	err error
}

// list writes one array, an entry a line.
func list[T any](x *object, name string, read func() ([]T, error)) {
	if x.err != nil {
		return
	}
	all, err := read()
	if err != nil {
		x.err = err
		return
	}
	fmt.Fprintf(x.w, ",\n%q: [", name)
	for i, one := range all {
		text, err := json.Marshal(one)
		if err != nil {
			x.err = err
			return
		}
		if i > 0 {
			fmt.Fprint(x.w, ",")
		}
		fmt.Fprintf(x.w, "\n%s", text)
	}
	_, x.err = fmt.Fprint(x.w, "]")
}
