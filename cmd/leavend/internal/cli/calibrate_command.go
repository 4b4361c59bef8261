package cli

import (
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/calibrate"
	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/record"
	"leavend/cmd/leavend/internal/text"
)

func newCalibrateCommand() *cobra.Command {
	var f calibrate.Opts
	cmd := &cobra.Command{
		Use:   "calibrate VESSEL",
		Short: "Measure a vessel, so that distances become heights and volumes",
		Long: `Calibrate finds how far below its sensor the floor of a vessel is. It asks for
the empty vessel and, to check that, for one or more levels that you measure
with a ruler. Two inside diameters make volumes of the heights. Of a laser
ranger it also finds how far it is off, and what a cover glass over it throws
back, by a card that you lay below it at two distances.

It shows how much the readings stray, and which lines of the configuration it
would change; it writes them after you agree. A daemon that uses the same bus
or line must be stopped first.

For scripts: --empty, --level, --offset or --crosstalk says what is under the
sensor now, so that nothing is asked but whether to write, and --yes agrees to
that. Measure the offset before the glass, and both before the vessel.

With --watch it changes nothing: it reads a vessel that stands still for so
long, and says how much the distance wanders by itself.`,
		Example: `  leavend calibrate Bramble
  leavend calibrate Bramble --offset 140 --yes
  leavend calibrate Bramble --watch 1h
  leavend calibrate Bramble --empty --bore-bottom 80 --yes`,
		Args: takes(1, 1),
	}
	file := addConfigFlag(cmd)
	cmd.Flags().BoolVar(&f.Empty, "empty", false, "the vessel is empty and in its place; measure it now")
	cmd.Flags().StringVar(&f.Level, "level", "", "it is filled to this height above its floor; measure it now")
	cmd.Flags().StringVar(&f.BoreBottom, "bore-bottom", "", "inside diameter at the floor")
	cmd.Flags().StringVar(&f.BoreTop, "bore-top", "", "inside diameter at the height; left out, the sides are straight")
	cmd.Flags().StringVar(&f.HeightMM, "height", "", "inside height")
	cmd.Flags().StringVar(&f.Offset, "offset", "", "white paper lies this far below the sensor; measure by how much its readings are off")
	cmd.Flags().StringVar(&f.Card, "crosstalk", "", "a dull grey card (17 %; for a vl6180x a dull black one) lies this far below the sensor, whose offset is known; measure the cover glass")
	cmd.Flags().DurationVar(&f.Watch, "watch", 0, "the vessel stands still; watch it for so long (15m to 24h) and say how much its distance wanders")
	cmd.Flags().BoolVar(&f.Yes, "yes", false, "write the change without asking")
	cmd.MarkFlagsMutuallyExclusive("empty", "level", "offset", "crosstalk", "watch")
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		conf, err := loadForTerminal(*file)
		if err != nil {
			return err
		}
		if pid, ok := check.ThisBoard().RunningOn(conf); ok {
			return text.Fail("cli.calibrate.busy", text.Name("pid", pid))
		}
		bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
		defer bench.Close()
		bench.Prepare(conf.Sensors, conf.Buses...)
		stop, err := record.Subscribe(cmd.Context(), conf, bench)
		if err != nil {
			return err
		}
		defer stop()
		return calibrate.Run(cmd.Context(), bench, conf, args[0], f, cmd.InOrStdin(), cmd.OutOrStdout())
	}
	return cmd
}
