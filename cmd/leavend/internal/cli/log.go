package cli

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"os"
)

// newLog writes log lines of a level and above to stderr. Where that is the
// systemd journal, each line begins with its priority as sd-daemon(3) describes
// it, so that `journalctl -p warning` finds what matters.
func newLog(stderr io.Writer, level slog.Level) *slog.Logger {
	o := &slog.HandlerOptions{Level: level}
	if !isJournal(stderr, os.Getenv("JOURNAL_STREAM")) {
		return slog.New(slog.NewTextHandler(stderr, o))
	}
	h := journalHandler{}
	for _, p := range priorities {
		h = append(h, slog.NewTextHandler(&prefixed{stderr, p.prefix}, o))
	}
	return slog.New(h)
}

// priorities are those of syslog(3) for the levels of log/slog, the gravest
// first.
var priorities = [...]struct {
	from   slog.Level
	prefix string
}{
	{slog.LevelError, "<3>"}, {slog.LevelWarn, "<4>"}, {slog.LevelInfo, "<6>"}, {slog.LevelDebug, "<7>"},
}

// journalHandler holds a handler for each of the priorities.
type journalHandler []slog.Handler

// Enabled reports whether lines of a level are written.
func (h journalHandler) Enabled(ctx context.Context, l slog.Level) bool { return h[0].Enabled(ctx, l) }

// Handle writes a line.
func (h journalHandler) Handle(ctx context.Context, r slog.Record) error {
	for i, p := range priorities {
		if r.Level >= p.from {
			return h[i].Handle(ctx, r)
		}
	}
	return h[len(h)-1].Handle(ctx, r)
}

// WithAttrs returns a handler whose lines carry attributes.
func (h journalHandler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return h.each(func(one slog.Handler) slog.Handler { return one.WithAttrs(attrs) })
}

// WithGroup returns a handler whose attributes stand in a group.
func (h journalHandler) WithGroup(name string) slog.Handler {
	return h.each(func(one slog.Handler) slog.Handler { return one.WithGroup(name) })
}

func (h journalHandler) each(change func(slog.Handler) slog.Handler) journalHandler {
	out := make(journalHandler, len(h))
	for i, one := range h {
		out[i] = change(one)
	}
	return out
}

// prefixed puts a prefix before what one call of Write writes, in one write: the
// lines of two goroutines never mix.
type prefixed struct {
	w      io.Writer
	prefix string
}

func (p *prefixed) Write(b []byte) (int, error) {
	if _, err := p.w.Write(append([]byte(p.prefix), b...)); err != nil {
		return 0, err
	}
	return len(b), nil
}

// printError writes why a command failed, each line with its priority where
// stderr is the journal.
func printError(stderr io.Writer, err error) {
	text := []byte("leavend: " + err.Error())
	if isJournal(stderr, os.Getenv("JOURNAL_STREAM")) {
		text = append([]byte("<3>"), bytes.ReplaceAll(text, []byte("\n"), []byte("\n<3>"))...)
	}
	_, _ = stderr.Write(append(text, '\n')) // there is nowhere to say that it failed
}
