package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/export"
	"leavend/cmd/leavend/internal/text"
)

// exportFlags are the switches of the export command.
type exportFlags struct {
	storeFlags
	vessel, from, to, out string
	json, lines           bool
}

func newExportCommand() *cobra.Command {
	var f exportFlags
	c := &cobra.Command{
		Use:   "export",
		Short: "Write readings as a recording (CSV) or as points, or the journal as JSON",
		Long: `Export writes the readings of one vessel as a recording that 'leavend replay'
reads, with a row for each feed; older readings, which are kept as means of a
minute only, say so in the column mean_of. With --json it writes the journal:
feeds, events, faults, forecasts, bakes and settings, corrections included. With
--line-protocol it writes readings and feeds, of all vessels where none is named,
as time-series databases take them. The daemon may run.`,
		Args: takes(0, 0),
		RunE: func(cmd *cobra.Command, _ []string) error { return f.run(cmd) },
	}
	f.add(c)
	c.Flags().StringVar(&f.vessel, "vessel", "", "the vessel to export; needed where there are several")
	c.Flags().StringVar(&f.from, "from", "", "start: a date or an RFC 3339 time (default: the beginning)")
	c.Flags().StringVar(&f.to, "to", "", "end, exclusive (default: now)")
	c.Flags().StringVarP(&f.out, "output", "o", "-", "the `FILE` to write, which must not exist; - is the terminal")
	c.Flags().BoolVar(&f.json, "json", false, "write the journal instead of readings")
	c.Flags().BoolVar(&f.lines, "line-protocol", false, "write points in the line protocol, of all vessels or of --vessel")
	c.MarkFlagsMutuallyExclusive("json", "line-protocol")
	return c
}

func (f *exportFlags) run(cmd *cobra.Command) error {
	from, err := parseMoment(f.from, time.UnixMilli(0))
	if err != nil {
		return failure.Misuse(fmt.Errorf("--from: %w", err))
	}
	to, err := parseMoment(f.to, time.UnixMilli(1<<52))
	if err != nil {
		return failure.Misuse(fmt.Errorf("--to: %w", err))
	}
	if !to.After(from) {
		return failure.Misuse(text.Fail("cli.export.order"))
	}
	s, err := f.reader(cmd.Context())
	if err != nil {
		return err
	}
	defer s.Close()
	return f.write(cmd, func(w io.Writer) error {
		if f.json {
			return export.Journal(cmd.Context(), s, w, store.Query{Vessel: f.vessel, From: from, To: to}, time.Now())
		}
		if f.lines {
			return f.writeLines(cmd, s, w, from, to)
		}
		vessel, err := f.oneVessel(cmd.Context(), s)
		if err != nil {
			return err
		}
		rows, err := export.Recording(cmd.Context(), s, w, vessel, from, to)
		if err == nil {
			fmt.Fprintln(cmd.ErrOrStderr(), text.Say("cli.export.rows", text.Name("name", vessel), text.Count("n", rows)).In(readerFor(cmd)))
		}
		return err
	})
}

// writeLines writes points of the vessel that is named, or of all.
func (f *exportFlags) writeLines(cmd *cobra.Command, s *store.Store, w io.Writer, from, to time.Time) error {
	vessels, err := s.Readings.Vessels(cmd.Context())
	if err != nil {
		return err
	}
	if f.vessel != "" {
		one, err := f.oneVessel(cmd.Context(), s)
		if err != nil {
			return err
		}
		vessels = []string{one}
	}
	points, err := export.Lines(cmd.Context(), s, w, vessels, from, to)
	if err == nil {
		fmt.Fprintln(cmd.ErrOrStderr(), text.Say("cli.export.points", text.Count("n", points)).In(readerFor(cmd)))
	}
	return err
}

// write opens the file, hands it to fn and removes it again if fn fails.
func (f *exportFlags) write(cmd *cobra.Command, fn func(io.Writer) error) error {
	out := cmd.OutOrStdout()
	if f.out == "-" {
		b := bufio.NewWriter(out)
		if err := fn(b); err != nil {
			return err
		}
		return b.Flush()
	}
	file, err := os.OpenFile(f.out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return newFile(f.out, err)
	}
	b := bufio.NewWriter(file)
	err = fn(b)
	if err == nil {
		err = errors.Join(b.Flush(), file.Sync())
	}
	if closeErr := file.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		os.Remove(f.out)
	}
	return err
}

// oneVessel finds the vessel that is meant.
func (f *exportFlags) oneVessel(ctx context.Context, s *store.Store) (string, error) {
	names, err := s.Readings.Vessels(ctx)
	if err != nil {
		return "", err
	}
	if f.vessel == "" && len(names) == 1 {
		return names[0], nil
	}
	for _, name := range names {
		if name == f.vessel {
			return name, nil
		}
	}
	if len(names) == 0 {
		return "", text.Fail("cli.export.empty")
	}
	return "", noVessel(f.vessel, names)
}

// parseMoment reads a time or a date, which is the start of that day here.
func parseMoment(typed string, unset time.Time) (time.Time, error) {
	if typed == "" {
		return unset, nil
	}
	if t, err := time.Parse(time.RFC3339, typed); err == nil {
		return t, nil
	}
	if t, err := time.ParseInLocation(time.DateOnly, typed, time.Local); err == nil {
		return t, nil
	}
	return time.Time{}, text.Fail("cli.export.no_moment", text.Name("typed", typed))
}
