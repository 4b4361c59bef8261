package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/text"
)

func newMatCommand() *cobra.Command {
	return group("mat", "Switch the heat mat off, or let it heat", newMatOffCommand(), newMatAllowCommand(), newMatAcknowledgeCommand())
}

func newMatOffCommand() *cobra.Command {
	var f offFlags
	cmd := &cobra.Command{
		Use:   "off",
		Short: "Switch the mat off, and keep it off until a person allows it",
		Long: `Switch the mat off, whatever the daemon does, and keep it off until a person
allows it on the page or with 'leavend mat allow'. It asks the daemon. One that
does not answer within five seconds is ended, and the output is switched off
without it: by the note that the daemon has left, so that no configuration is
needed.

It ends with 0 only when the mat is known to be off and will stay off. With 1 it
says what it could not do: then pull the mat's plug.`,
		Args: takes(0, 0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			say := func(to io.Writer, what text.Message) { fmt.Fprintln(to, "mat off: "+what.In(readerFor(cmd))) }
			f.tell = func(what text.Message) { say(cmd.ErrOrStderr(), what) }
			said, err := f.off(cmd.Context())
			for _, what := range said {
				say(cmd.OutOrStdout(), what)
			}
			if err != nil {
				return fmt.Errorf("mat off: %w", err)
			}
			return nil
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&f.state, "state", "", "the note that the daemon has left: mat.json in its runtime or data folder")
	flags.StringVarP(&f.config, "config", "c", "", "the daemon's configuration, where its data folder is not /var/lib/leavend")
	flags.StringVar(&f.chip, "chip", "", "GPIO chip, such as /dev/gpiochip0 (with --line)")
	flags.StringVar(&f.line, "line", "", "GPIO line to drive low, whatever the note says")
	flags.BoolVar(&f.afterExit, "after-exit", false, "for systemd, after the daemon has ended: switch off, and let the next start heat again")
	return cmd
}

// offFlags say where to look for a mat.
type offFlags struct {
	state, config, chip, line string
	afterExit                 bool
	tell                      func(text.Message) // what takes long
}

// off switches every mat off that it finds, and says what became of each. The
// error names all that is not known to be off and to stay off.
func (f offFlags) off(ctx context.Context) (said []text.Message, err error) {
	places, err := f.places()
	if err != nil {
		return nil, err
	}
	var errs []error
	found := false
	var held []heating.Line // by daemons that answered, and are off
	var shut []string       // folders that this user may not look into
	for _, p := range places {
		p.tell = f.tell
		r := p.off(ctx, f.afterExit, held)
		// That one daemon has no mat says nothing of another one's, unless this is
		// the one that was meant.
		found = found || r.found && (!r.none || f.afterExit || f.state != "" || f.config != "")
		if r.line != nil {
			held = append(held, *r.line)
		}
		if r.shut != "" {
			shut = append(shut, r.shut)
		}
		if !r.says.IsZero() {
			said = append(said, r.says)
		}
		errs = append(errs, r.err)
	}
	if len(shut) > 0 {
		errs = append(errs, text.Fail("cli.off.shut", text.Name("folders", strings.Join(shut, ", "))))
	}
	switch {
	case found:
		return said, errors.Join(errs...)
	case f.afterExit:
		return []text.Message{text.Say("cli.off.unopened")}, nil
	}
	return said, text.Fail("cli.off.nothing", text.Name("folders", strings.Join(heating.UsualFolders(), ", ")))
}

// places are where the flags say to look, or where a daemon may have left
// something.
func (f offFlags) places() ([]offPlace, error) {
	switch {
	case f.line != "":
		return []offPlace{{dataDir: heating.UsualFolders()[1], instead: &heating.Note{Line: &heating.Line{Chip: f.chip, Line: f.line}}}}, nil
	case f.state != "":
		if _, err := os.Stat(f.state); err != nil {
			return nil, text.Fail("cli.off.no_note", text.Cause("err", err))
		}
		return []offPlace{{note: f.state}}, nil
	case f.config != "":
		return f.placesByConfig()
	}
	folders := daemonFolders()
	if dir := os.Getenv("RUNTIME_DIRECTORY"); f.afterExit && dir != "" {
		folders = []string{dir} // the daemon of this service, and no other
	}
	var places []offPlace
	for _, dir := range folders {
		places = append(places, offPlace{note: filepath.Join(dir, heating.NoteName)})
	}
	return places, nil
}

// placesByConfig are the data folder of a configuration, and where the daemon
// of the package would have left its note. Without one the configuration itself
// says what switches the mat.
func (f offFlags) placesByConfig() ([]offPlace, error) {
	conf, err := loadConfig(f.config)
	if err != nil {
		return nil, err
	}
	beside := offPlace{note: filepath.Join(conf.DataDir, heating.NoteName), dataDir: conf.DataDir}
	if note, err := heating.NoteOf(conf); err == nil && !note.None {
		beside.instead = &note
	}
	service := offPlace{note: filepath.Join(heating.UsualFolders()[0], heating.NoteName)}
	if n, err := heating.ReadNote(service.note); err == nil && n.DataDir == conf.DataDir {
		service.dataDir = conf.DataDir
		return []offPlace{service}, nil
	} else if errors.Is(err, fs.ErrPermission) {
		return []offPlace{service, beside}, nil
	}
	return []offPlace{beside}, nil
}
