package cli

import (
	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/demo"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor/sim"
)

func newDemoCommand() *cobra.Command {
	var f demo.Opts
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Run the daemon in an invented kitchen, without hardware",
		Long: `Demo runs the real daemon, with its real broker, metrics and history, in an
invented kitchen in quick motion: jars, dough, mat, room, sensors and their
faults are simulated, and all data is made up. It ends with Ctrl-C.`,
		Args: takes(0, 0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !(f.Speed >= 1 && f.Speed <= 1000) {
				return failure.Misuse(outside("--speed", f.Speed, 1, 1000))
			}
			if f.Units != string(config.Metric) && f.Units != string(config.US) || f.Clock != 12 && f.Clock != 24 {
				return failure.Misuse(text.Fail("cli.usage.units"))
			}
			return demo.Run(cmd.Context(), f, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	flags := cmd.Flags()
	flags.Float64Var(&f.Speed, "speed", sim.DemoSpeed, "kitchen seconds a second, 1 to 1000")
	flags.Uint64Var(&f.Seed, "seed", 1, "which of the invented kitchens")
	flags.DurationVar(&f.Duration, "for", 0, "end after this long; 0 runs until Ctrl-C")
	flags.BoolVar(&f.Ports, "any-ports", false, "take free ports instead of the usual ones")
	flags.StringVar(&f.Units, "units", string(config.Metric), "metric or us")
	flags.IntVar(&f.Clock, "clock", 24, "hours of the clock, 24 or 12")
	return cmd
}
