package cli

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"os"
	"sync"

	"leavend/cmd/leavend/internal/text"
)

// newLog writes log lines of a level and above to stderr. Where that is the
// systemd journal, each line begins with its priority as sd-daemon(3) describes
// it, so that `journalctl -p warning` finds what matters.
func newLog(stderr io.Writer, level slog.Level) *slog.Logger {
	o := &slog.HandlerOptions{Level: level}
	if !isJournal(stderr, os.Getenv("JOURNAL_STREAM")) {
		return slog.New(slog.NewTextHandler(stderr, o))
	}
	out := &prefixed{w: stderr}
	return slog.New(journalHandler{slog.NewTextHandler(out, o), out})
}

// priorityOf is the priority of syslog(3) for a level of log/slog.
func priorityOf(l slog.Level) string {
	switch {
	case l >= slog.LevelError:
		return "<3>"
	case l >= slog.LevelWarn:
		return "<4>"
	case l >= slog.LevelInfo:
		return "<6>"
	}
	return "<7>"
}

// journalHandler writes lines that begin with their priority.
type journalHandler struct {
	slog.Handler
	out *prefixed
}

// Handle writes a line.
func (h journalHandler) Handle(ctx context.Context, r slog.Record) error {
	h.out.mu.Lock()
	defer h.out.mu.Unlock()
	h.out.prefix = priorityOf(r.Level)
	return h.Handler.Handle(ctx, r)
}

// WithAttrs returns a handler whose lines carry attributes.
func (h journalHandler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return journalHandler{h.Handler.WithAttrs(attrs), h.out}
}

// WithGroup returns a handler whose attributes stand in a group.
func (h journalHandler) WithGroup(name string) slog.Handler {
	return journalHandler{h.Handler.WithGroup(name), h.out}
}

// prefixed puts a prefix before what one call of Write writes, in one write.
type prefixed struct {
	w io.Writer

	mu     sync.Mutex // held while a line is written; guards prefix
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
func printError(stderr io.Writer, err error, r text.Reader) {
	said := []byte("leavend: " + text.Explain(err).In(r))
	if isJournal(stderr, os.Getenv("JOURNAL_STREAM")) {
		said = append([]byte("<3>"), bytes.ReplaceAll(said, []byte("\n"), []byte("\n<3>"))...)
	}
	_, _ = stderr.Write(append(said, '\n')) // there is nowhere to say that it failed
}
