package cli

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/export"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
	"leavend/cmd/leavend/internal/web/access"

	"github.com/spf13/cobra"
)

// How much of the past goes into a support file.
const (
	supportEntries = 200
	supportTrace   = 48 * time.Hour
	supportLog     = "2000" // lines of the log
)

func newSupportCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "support FILE",
		Short: "Gather what a helper needs to know in one zip file, without secrets",
		Long: `Support writes a zip file, which must not exist yet: the configuration without
secrets and comments, versions, what 'leavend check' says, the last faults and
events, two days of readings, the log and the sizes of the files. Nothing is
sent anywhere. Look through it before you pass it on: it tells when you bake.

Passwords and addresses of messages are left out of all of it, also when they
stand in a line with a mistake. The daemon may run.`,
		Args: takes(1, 1),
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		s := newSupport(*file, check.ThisBoard())
		if err := s.write(cmd.Context(), args[0]); err != nil {
			return err
		}
		return say(cmd, "cli.support.written", text.Name("file", args[0]))
	}
	return cmd
}

// support gathers one support file.
type support struct {
	file  string
	board check.Board
	text  []byte // the configuration as it stands
	err   error  // why it cannot be read
	shown config.Redaction
	conf  *config.Config // nil where it has mistakes
	store *store.Store   // nil where there is none
	lost  error          // why there is none
}

func newSupport(file string, board check.Board) *support {
	s := &support{file: file, board: board}
	s.text, s.err = os.ReadFile(file)
	s.shown = config.Redact(s.text, filepath.Dir(file))
	s.conf, _ = config.Load(file)
	return s
}

// write gathers every part. A part that cannot be had says why in its place:
// the worse things stand, the more the others are needed.
func (s *support) write(ctx context.Context, name string) (err error) {
	out, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("support: %w", newFile(name, err))
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	if s.store, s.lost = s.openStore(ctx); s.store != nil {
		defer s.store.Close()
	}
	archive := zip.NewWriter(out)
	for _, part := range []struct {
		name string
		make func(context.Context, io.Writer) error
	}{
		{"version.txt", s.versions}, {"config.toml", s.config}, {"check.json", s.check},
		{"faults.json", s.faults}, {"events.json", s.events}, {"sizes.txt", s.sizes}, {"log.txt", s.log}, {"metrics.txt", s.metrics},
	} {
		if err := s.add(ctx, archive, part.name, part.make); err != nil {
			return err
		}
	}
	if err := s.traces(ctx, archive); err != nil {
		return err
	}
	return archive.Close()
}

// add writes one part, scrubbed.
func (s *support) add(ctx context.Context, archive *zip.Writer, name string, fill func(context.Context, io.Writer) error) error {
	var b bytes.Buffer
	if err := fill(ctx, &b); err != nil {
		fmt.Fprintf(&b, "(not to be had: %v)\n", err)
	}
	w, err := archive.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: time.Now()})
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, s.shown.Scrub(b.String()))
	return err
}

func (s *support) versions(_ context.Context, w io.Writer) error {
	fmt.Fprintf(w, "leavend %s (%s, %s/%s, %s)\n", version.Version, version.Revision(), runtime.GOOS, runtime.GOARCH, runtime.Version())
	for _, f := range []string{"/proc/device-tree/model", "/proc/version", "/etc/os-release", "/proc/uptime"} {
		if text, err := os.ReadFile(f); err == nil {
			fmt.Fprintf(w, "\n%s:\n%s\n", f, strings.Trim(string(text), "\x00\n"))
		}
	}
	return nil
}

func (s *support) config(_ context.Context, w io.Writer) error {
	if s.err != nil {
		return s.err
	}
	_, err := fmt.Fprintf(w, "# %s, without secrets and comments\n%s", s.file, s.shown.Text)
	return err
}

// report checks the board as `leavend check` does.
func (s *support) report(ctx context.Context) *check.Report {
	report := &check.Report{}
	bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
	defer bench.Close() // An error of closing changes nothing here.
	check.Checker{Board: s.board, I2c: check.OpenI2C, Open: bench.Open, Prepare: bench.Prepare}.All(ctx, report, s.file, false)
	return report
}

func (s *support) check(ctx context.Context, w io.Writer) error { return s.report(ctx).WriteJSON(w) }

func (s *support) openStore(ctx context.Context) (*store.Store, error) {
	if s.conf == nil {
		return nil, errors.New("the configuration does not say where the history is")
	}
	if _, err := os.Stat(s.conf.Store.File); err != nil {
		return nil, err
	}
	st, _, err := store.Open(ctx, s.conf.Store.File, store.Opts{ReadOnly: true})
	return st, err
}

func (s *support) faults(ctx context.Context, w io.Writer) error {
	if s.store == nil {
		return s.lost
	}
	all, err := s.store.Journal.Events(ctx, store.Query{})
	all = slices.DeleteFunc(all, func(e store.Event) bool {
		return e.Kind != string(event.AlarmRaised) && e.Kind != string(event.AlarmCleared)
	})
	return asLines(w, all[:min(len(all), supportEntries)], err)
}

func (s *support) events(ctx context.Context, w io.Writer) error {
	if s.store == nil {
		return s.lost
	}
	all, err := s.store.Journal.Events(ctx, store.Query{Limit: supportEntries})
	return asLines(w, all, err)
}

// asLines writes one JSON object a line.
func asLines[T any](w io.Writer, all []T, err error) error {
	e := json.NewEncoder(w)
	for _, a := range all {
		err = errors.Join(err, e.Encode(a))
	}
	return err
}

// traces adds the last readings of each vessel, as recordings that replay.
func (s *support) traces(ctx context.Context, archive *zip.Writer) error {
	if s.store == nil {
		return nil // faults.json says why
	}
	for _, v := range s.conf.Vessels {
		err := s.add(ctx, archive, "readings-"+v.Slug+".csv", func(ctx context.Context, w io.Writer) error {
			now := time.Now()
			_, err := export.Recording(ctx, s.store, w, v.Slug, now.Add(-supportTrace), now)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// sizes lists the files of the history.
func (s *support) sizes(_ context.Context, w io.Writer) error {
	dir := config.Default().DataDir
	if s.conf != nil {
		dir = s.conf.DataDir
	}
	return filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		if info, err := d.Info(); err == nil {
			fmt.Fprintf(w, "%12d  %s  %s\n", info.Size(), info.ModTime().UTC().Format(time.RFC3339), path)
		}
		return nil
	})
}

// setupCode finds the code with which the page's first password is chosen.
var setupCode = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`\b(code|` + access.SetupCodeKey + `)=\d+`)
})

// log asks systemd for what the daemon said.
func (s *support) log(ctx context.Context, w io.Writer) error {
	ctx, stop := context.WithTimeout(ctx, 20*time.Second)
	defer stop()
	out, err := exec.CommandContext(ctx, "journalctl", "--unit=leavend", "--no-pager", "--output=short-iso", "--lines="+supportLog).CombinedOutput()
	if _, werr := w.Write(setupCode().ReplaceAll(out, []byte("$1=(left out)"))); werr != nil {
		return werr
	}
	return err
}

// metrics asks the running daemon for its numbers.
func (s *support) metrics(ctx context.Context, w io.Writer) error {
	if s.conf == nil || !s.conf.Metrics.On || s.conf.Metrics.WebConfigFile != "" || !config.Loopback(s.conf.Metrics.Listen) {
		return errors.New("they are off, or not open to this board without a login")
	}
	ctx, stop := context.WithTimeout(ctx, 5*time.Second)
	defer stop()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+s.conf.Metrics.Listen+"/metrics", nil)
	if err != nil {
		return err
	}
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	_, err = io.Copy(w, io.LimitReader(answer.Body, 4<<20))
	return err
}
