package cli

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"os"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/replay"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor/recording"
)

func newImportCommand() *cobra.Command {
	var f storeFlags
	var vessel string
	c := &cobra.Command{
		Use:   "import --vessel NAME FILE...",
		Short: "Import recordings into a vessel's history",
		Long: `Import takes recordings (CSV, or CSV packed with gzip) as readings and feeds of a
vessel, at the times that stand in them. A row that cannot be read is named on
stderr and skipped, and so is a number whose decimal mark is in doubt. A recording
is imported only once. Stop the daemon first.`,
		Args: takes(1, -1),
		RunE: func(cmd *cobra.Command, files []string) error {
			if vessel == "" {
				return failure.Misuse(text.Fail("cli.import.which"))
			}
			path, err := f.path()
			if err != nil {
				return err
			}
			if vessel, err = f.slugOf(vessel); err != nil {
				return err
			}
			s, report, err := store.Open(cmd.Context(), path, store.Opts{})
			if err != nil {
				return err
			}
			defer s.Close()
			if !report.OK() {
				fmt.Fprintln(cmd.ErrOrStderr(), "leavend:", report.Explain().In(readerFor(cmd)))
			}
			for _, file := range files {
				if err := importFile(cmd, s, vessel, file); err != nil {
					return err
				}
			}
			return nil
		},
	}
	f.add(c)
	c.Flags().StringVar(&vessel, "vessel", "", "the vessel that was recorded")
	return c
}

// importFile stores one recording, whose name in the store is the hash of what it
// holds, packed or not.
func importFile(cmd *cobra.Command, s *store.Store, vessel, file string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	in, err := unpacked(f)
	if err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	hash := sha256.New()
	if _, err := io.Copy(hash, in); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	if in, err = unpacked(f); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	r, err := recording.NewReader(in)
	if err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	bad := 0
	skip := func(err error) {
		bad++
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %v\n", file, err)
	}
	done, err := s.Copies.Import(cmd.Context(), vessel, fmt.Sprintf("%x", hash.Sum(nil)), importRows(monitor.NewVessel(config.Vessel{Slug: vessel}, nil), r, skip))
	if err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	name := text.Name("file", file)
	err = say(cmd, "cli.import.done", name, text.Count("rows", done.Rows), text.Count("readings", done.Readings), text.Count("feeds", done.Feeds), text.Count("bad", bad))
	if err == nil && done.Refused > 0 {
		err = say(cmd, "cli.import.future", name, text.Count("n", done.Refused), text.Name("first", fmt.Sprint(done.First)))
	}
	if err == nil && done.Starters > 0 {
		err = say(cmd, "cli.import.starters", name, text.Count("n", done.Starters))
	}
	return err
}

// unpacked reads a file from its beginning, through gzip where it is packed.
func unpacked(f *os.File) (io.Reader, error) {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	in, _, err := replay.Unpack(f)
	return in, err
}

// slugOf finds the vessel that is meant, by its name or by its slug, so that no
// past is stored where no page shows it. Where only the store's file was named,
// nothing is known of vessels, and the slug it is.
func (f *storeFlags) slugOf(vessel string) (string, error) {
	if f.file != "" {
		return vessel, nil
	}
	c, err := config.Load(*f.config)
	if err != nil {
		return "", failure.Misuse(err)
	}
	v, err := vesselOf(c, vessel)
	return v.Slug, err
}

// importRows turns a recording's rows into the store's. The vessel v sees each,
// as it would have seen it live, so that a hand over the jar is no part of the
// curve; what it makes of them beside that is not kept.
func importRows(v *monitor.Vessel, r *recording.Reader, skip func(error)) iter.Seq2[store.ImportRow, error] {
	return func(yield func(store.ImportRow, error) bool) {
		for {
			row, err := r.Next()
			var bad *recording.RowError
			switch {
			case err == io.EOF:
				return
			case errors.As(err, &bad):
				skip(bad)
				continue
			case err != nil:
				yield(store.ImportRow{}, err)
				return
			}
			if row.OutOfOrder { // a file glued together; another curve
				v = monitor.NewVessel(v.Conf, nil)
			}
			values := map[store.Channel]float64{store.Distance: row.DistanceMM, store.Warmth: row.TempC}
			switch row.Mat {
			case recording.On:
				values[store.MatOn] = 1
			case recording.Off:
				values[store.MatOn] = 0
			}
			if row.Note == recording.Fed {
				v.Fed(row.At)
			}
			if !math.IsNaN(row.DistanceMM) {
				s, _ := v.Distance(row.At, row.DistanceMM, "")
				values[store.Surface] = s.SurfaceMM
			}
			if !yield(store.ImportRow{At: row.At, Values: values, Fed: row.Note == recording.Fed, New: row.Note == recording.NewStarter}, nil) {
				return
			}
		}
	}
}
