package cli

import (
	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/replay"
)

func newReplayCommand() *cobra.Command {
	var o replay.Opts
	c := &cobra.Command{
		Use:   "replay FILE...",
		Short: "Run the detector over recordings and print what it would have said",
		Long: `Replay reads recordings (CSV, or CSV packed with gzip), runs the daemon's own
detector over them and prints what it would have said and when. Nothing that is
printed for a moment depends on rows after it. A row that cannot be read is
named on stderr and skipped.`,
		Args: takes(1, -1),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.FloorSet = cmd.Flags().Changed("floor")
			if err := o.Check(args); err != nil {
				return failure.Misuse(err)
			}
			return replay.Files(cmd.OutOrStdout(), cmd.ErrOrStderr(), args, o)
		},
	}
	flags := c.Flags()
	flags.BoolVar(&o.JSON, "json", false, "print JSON for a program, one object a line")
	flags.Float64Var(&o.FloorMM, "floor", 0, "distance from the sensor to the vessel's inside floor, mm; without it there are no rise ratios")
	flags.StringVar(&o.Plot, "plot", "", "draw the curve of the one FILE into this SVG `FILE`")
	flags.BoolVar(&o.Bowl, "bowl", false, "the vessel holds dough and waits for a target rise (needs --floor)")
	flags.Float64Var(&o.Target, "target", 0, "the target rise of a bowl, height over height at the feed (default 1.75)")
	return c
}
