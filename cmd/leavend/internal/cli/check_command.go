package cli

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/setup"
)

func newCheckCommand() *cobra.Command {
	var asJSON, switchMat, yes, proposes bool
	var record string
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Test the configuration and the board, and say what to mend",
		Long: `Check the configuration and the board. Each line says what is right (pass),
good to know (note), could be better (warn) or will not work (fail), and the
exact thing to do. Each sensor is read five times, a ranger
25 times, for its noise decides how many readings are averaged. Nothing is changed, and no
mat is switched unless --test-mat asks for it and you agree. With --propose it
only looks for sensors, and prints the lines that the configuration lacks for them. With
--record-bus it only records what the chips send; the file holds addresses,
registers and readings, and no name or password.

It ends with 0 when nothing failed, with 1 when something did, and with 2 when
the configuration has mistakes.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.Flags().BoolVar(&switchMat, "test-mat", false, "switch the mat on for 5 s, after you agree")
	cmd.Flags().BoolVar(&yes, "yes", false, "agree to --test-mat: the cautions are read")
	cmd.Flags().BoolVar(&proposes, "propose", false, "print config for sensors that answer and that the file does not name")
	cmd.Flags().StringVar(&record, "record-bus", "", "read every sensor for a minute, and write what the chips send to this new `FILE`, for those who write the drivers")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON for a program, in English")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if proposes {
			said, err := setup.Propose(setup.Scanner{Board: check.ThisBoard(), I2c: check.OpenI2C, Pause: time.Sleep}, *file, terminal(*file))
			if err != nil {
				return err
			}
			fmt.Fprint(cmd.OutOrStdout(), said)
			return nil
		}
		if record != "" {
			conf, err := loadConfig(*file)
			if err != nil {
				return err
			}
			return check.RecordBus(cmd.Context(), conf, check.ThisBoard(), record)
		}
		report := &check.Report{}
		if switchMat && !yes {
			if err := check.Consent(cmd.Context(), cmd.InOrStdin(), cmd.ErrOrStderr(), terminal(*file)); err != nil {
				return failure.Misuse(err)
			}
		}
		bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
		hands := check.Checker{Board: check.ThisBoard(), I2c: check.OpenI2C, Open: bench.Open, Prepare: bench.Prepare}
		code := hands.All(cmd.Context(), report, *file, switchMat)
		if err := bench.Close(); err != nil {
			report.Add(check.Unclosed(err))
		}
		var err error
		if asJSON {
			err = report.WriteJSON(cmd.OutOrStdout())
		} else {
			err = report.WriteText(cmd.OutOrStdout(), terminal(*file))
		}
		if err != nil {
			return err
		}
		switch code {
		case failure.Usage:
			return failure.Misuse(failure.ErrSaid)
		case failure.Failed:
			return failure.ErrSaid
		}
		return nil
	}
	return cmd
}
