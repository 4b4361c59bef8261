package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/record"
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
		Short: "Write down what a vessel's sensors see",
		Long: `Record reads one vessel's sensors as the daemon would, and writes a recording
that 'leavend replay' reads. It switches no mat. A line typed while it runs is
written as the note of the next row: type "fed" when you feed.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.vessel, "vessel", "", "the vessel, where the config has several")
	flags.StringVarP(&f.out, "output", "o", "-", "the file to write; - is the terminal")
	flags.DurationVar(&f.length, "for", 0, "end after this long; 0 records until Ctrl-C")
	flags.BoolVar(&f.force, "overwrite", false, "replace a file that is there already")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		conf, err := loadConfig(*file)
		if err != nil {
			return err
		}
		v, err := f.pick(conf)
		if err != nil {
			return failure.Misuse(err)
		}
		out, err := f.create(cmd.OutOrStdout())
		if err != nil {
			return failure.Misuse(err)
		}
		return errors.Join(record.Run(cmd.Context(), conf, v, f.length, out, cmd.InOrStdin(), cmd.ErrOrStderr()), out.Close())
	}
	return cmd
}

// pick returns the vessel to record.
func (f *recordFlags) pick(conf *config.Config) (config.Vessel, error) {
	if f.vessel == "" && len(conf.Vessels) == 1 {
		return conf.Vessels[0], nil
	}
	var names []string
	for _, v := range conf.Vessels {
		if v.Name == f.vessel || v.Slug == f.vessel {
			return v, nil
		}
		names = append(names, v.Name)
	}
	return config.Vessel{}, fmt.Errorf("--vessel: %q is none of the config's vessels: %q", f.vessel, names)
}

// create opens the file to write. A file that is there is not replaced
// unasked: it may be somebody's night.
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
		return nil, fmt.Errorf("%s is there already; choose another name or add --overwrite", f.out)
	}
	return file, newFile(f.out, err)
}

// newFile says why a new file could not be made, and what to do.
func newFile(name string, err error) error {
	switch {
	case errors.Is(err, os.ErrExist):
		return fmt.Errorf("%s is there already; choose another name", name)
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s: there is no folder %s; make it, or choose another", name, filepath.Dir(name))
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("%s: you may not write there; choose another folder, or put sudo in front", name)
	}
	return err
}

// unclosed is a writer that outlives its user.
type unclosed struct{ io.Writer }

// Close does nothing.
func (unclosed) Close() error { return nil }
