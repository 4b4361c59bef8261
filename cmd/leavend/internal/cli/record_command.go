package cli

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/record"
	"leavend/cmd/leavend/internal/text"
)

// recordFlags are the switches of the record command.
type recordFlags struct {
	vessel string
	out    string
	length time.Duration
	force  bool
}

func newRecordCommand() *cobra.Command {
	var f recordFlags
	cmd := &cobra.Command{
		Use:   "record",
		Short: "Record what a vessel's sensors read",
		Long: `Record reads one vessel's sensors as the daemon would, and writes a recording
that 'leavend replay' reads. It switches no mat. A line typed while it runs is
written as the note of the next row: type "fed" when you feed.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.vessel, "vessel", "", "the vessel to record; needed where there are several")
	flags.StringVarP(&f.out, "output", "o", "-", "the `FILE` to write, which must not exist; - is the terminal")
	flags.DurationVar(&f.length, "for", 0, "end after this long; 0 records until Ctrl-C")
	flags.BoolVar(&f.force, "overwrite", false, "replace a file that is there")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		conf, err := loadForTerminal(*file)
		if err != nil {
			return err
		}
		v, err := vesselOf(conf, f.vessel)
		if err != nil {
			return err
		}
		out, err := f.create(cmd.OutOrStdout())
		if err != nil {
			return failure.Misuse(err)
		}
		return errors.Join(record.Run(cmd.Context(), conf, v, f.length, out, cmd.InOrStdin(), cmd.ErrOrStderr()), out.Close())
	}
	return cmd
}

// vesselOf returns the vessel that --vessel names, by its name or its slug; without a
// name, the only one.
func vesselOf(conf *config.Config, name string) (config.Vessel, error) {
	if name == "" && len(conf.Vessels) == 1 {
		return conf.Vessels[0], nil
	}
	var names []string
	for _, v := range conf.Vessels {
		if v.Name == name || v.Slug == name {
			return v, nil
		}
		names = append(names, v.Name)
	}
	return config.Vessel{}, noVessel(name, names)
}

// noVessel says which names --vessel may have.
func noVessel(name string, names []string) error {
	switch {
	case len(names) == 0:
		return failure.Misuse(text.Fail("cli.vessel.none"))
	case name == "":
		return failure.Misuse(text.Fail("cli.vessel.which", text.Name("names", strings.Join(names, ", "))))
	}
	return failure.Misuse(text.Fail("cli.vessel.unknown", text.Name("name", name), text.Name("names", strings.Join(names, ", "))))
}

// create opens the file to write. A file that is there is not replaced
// unasked: it may hold the readings of a whole night.
func (f *recordFlags) create(stdout io.Writer) (io.WriteCloser, error) {
	if f.out == "-" {
		return unclosed{stdout}, nil
	}
	mode := os.O_WRONLY | os.O_CREATE | os.O_EXCL
	if f.force {
		mode = os.O_WRONLY | os.O_CREATE | os.O_TRUNC
	}
	file, err := os.OpenFile(f.out, mode, 0o644)
	if errors.Is(err, os.ErrExist) {
		return nil, text.Fail("cli.file.overwrite", text.Name("file", f.out))
	}
	return file, newFile(f.out, err)
}

// newFile says why a new file could not be made, and what to do.
func newFile(name string, err error) error {
	switch {
	case errors.Is(err, os.ErrExist):
		return text.Fail("cli.file.there", text.Name("file", name))
	case errors.Is(err, os.ErrNotExist):
		return text.Fail("cli.file.no_folder", text.Name("file", name), text.Name("dir", filepath.Dir(name)))
	case errors.Is(err, os.ErrPermission):
		return text.Fail("cli.file.rights", text.Name("file", name))
	}
	return err
}

// unclosed is a writer that outlives its user.
type unclosed struct{ io.Writer }

// Close does nothing.
func (unclosed) Close() error { return nil }
