//go:build linux

package cli

import (
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"leavend/cmd/leavend/internal/text"
)

// journal is a file in the place of stderr, and what JOURNAL_STREAM says of it.
func journal(t *testing.T) (f *os.File, stream string) {
	t.Helper()
	f, err := os.Create(filepath.Join(t.TempDir(), "journal"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	var s syscall.Stat_t
	if err := syscall.Fstat(int(f.Fd()), &s); err != nil {
		t.Fatal(err)
	}
	return f, fmt.Sprintf("%d:%d", s.Dev, s.Ino)
}

// logged are the lines of a file, without the times.
func logged(t *testing.T, f *os.File) []string {
	t.Helper()
	b, err := os.ReadFile(f.Name())
	if err != nil {
		t.Fatal(err)
	}
	text := regexp.MustCompile(`time=\S+ `).ReplaceAllString(string(b), "")
	return strings.Split(strings.TrimSuffix(text, "\n"), "\n")
}

// The priorities are those of sd-daemon(3): "<3>" is SD_ERR, "<4>" SD_WARNING,
// "<6>" SD_INFO, "<7>" SD_DEBUG.
func TestLogLinesCarryJournalPriorities(t *testing.T) {
	f, stream := journal(t)
	t.Setenv("JOURNAL_STREAM", stream)
	log := newLog(f, slog.LevelDebug)
	log.Error("the mat is off", "why", "its probe\nis silent")
	log.Warn("slow")
	log.With("vessel", "Bramble").WithGroup("at").Info("fed", "hour", 7)
	log.Debug("read")
	printError(f, errors.New("one\ntwo"), text.Reader{})
	want := []string{
		`<3>level=ERROR msg="the mat is off" why="its probe\nis silent"`, `<4>level=WARN msg=slow`,
		`<6>level=INFO msg=fed vessel=Bramble at.hour=7`, `<7>level=DEBUG msg=read`, `<3>leavend: one`, `<3>two`,
	}
	if got := logged(t, f); !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestLogLinesElsewhereCarryNone(t *testing.T) {
	for name, stream := range map[string]string{"no systemd": "", "the journal has another stream": "8:1"} {
		t.Run(name, func(t *testing.T) {
			f, _ := journal(t)
			t.Setenv("JOURNAL_STREAM", stream)
			log := newLog(f, slog.LevelWarn)
			log.Warn("slow")
			log.Info("not at this level")
			printError(f, errors.New("no"), text.Reader{})
			if got, want := logged(t, f), []string{"level=WARN msg=slow", "leavend: no"}; !slices.Equal(got, want) {
				t.Errorf("got %q, want %q", got, want)
			}
		})
	}
}
