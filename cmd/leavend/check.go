package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"

	"github.com/spf13/cobra"
)

func newCheckCommand() *cobra.Command {
	var asJSON, switchMat, yes, proposes bool
	var record string
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Say what will run, what is wrong, and what to do about it",
		Long: `Check the configuration and the board. Each line says what is right (pass),
good to know (note), could be better (warn) or will not work (fail), and the
exact thing to do. Each sensor is read five times, a ranger
25 times, for its noise decides how many readings are averaged. Nothing is changed, and no
mat is switched unless --test-mat asks for it and you agree. With --propose it
only looks for sensors, and prints what the configuration lacks for them. With
--record-bus it only records what the chips say; the file holds addresses,
registers and readings, and no name or password.

It ends with 0 when nothing failed, with 1 when something did, and with 2 when
the configuration has mistakes.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.Flags().BoolVar(&switchMat, "test-mat", false, "switch the mat on for 5 s, after you agree")
	cmd.Flags().BoolVar(&yes, "yes", false, "agree to --test-mat: the cautions are read")
	cmd.Flags().BoolVar(&proposes, "propose", false, "print config for sensors that answer and that the file does not name")
	cmd.Flags().StringVar(&record, "record-bus", "", "read every sensor for a minute, and write what the chips say to this file, for those who write the drivers")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object for a program")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if proposes {
			said, err := propose(surveyor{board: check.ThisBoard(), i2c: openI2C, pause: time.Sleep}, *file)
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
			return recordBus(cmd.Context(), conf, check.ThisBoard(), record)
		}
		report := &check.Report{}
		if switchMat && !yes && !consent(cmd.InOrStdin(), cmd.ErrOrStderr()) {
			return failure.Misuse(errors.New("the mat is left alone: you did not type yes"))
		}
		bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
		hands := checker{board: check.ThisBoard(), i2c: openI2C, open: bench.Open, prepare: bench.Prepare}
		code := hands.all(cmd.Context(), report, *file, switchMat)
		if err := bench.Close(); err != nil {
			report.Add(check.Result{Topic: "sensors", Level: check.Warn, Says: fmt.Sprintf("a bus could not be closed: %v.", err)})
		}
		write := report.WriteText
		if asJSON {
			write = report.WriteJSON
		}
		if err := write(cmd.OutOrStdout()); err != nil {
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

// checker is what a check looks at, so that tests can show it another board.
type checker struct {
	board check.Board
	i2c   i2cOpener
	open  hardware.Opener

	prepare func([]config.Sensor, ...config.Bus) // nil where nothing is shared
}

// all fills the report and returns the exit code that belongs to it.
func (h checker) all(ctx context.Context, report *check.Report, file string, switchMat bool) int {
	c, err := config.Load(file)
	if err != nil {
		report.Add(configProblems(file, err)...)
		return failure.Usage
	}
	report.Add(explain(c)...)
	report.Add(checkBoard(c, h.board, h.i2c)...)
	report.Add(checkNetwork(ctx, c, h.board)...)
	report.Add(checkHistory(ctx, c)...)
	if _, running := h.board.Running(); !running {
		if h.prepare != nil {
			h.prepare(c.Sensors, c.Buses...)
		}
		report.Add(checkSensors(ctx, c, report, h.open)...)
	}
	if c.Mat.Heats() {
		report.Add(checkMat(c, h.board)...)
	}
	if c.Mat.Heats() && switchMat {
		report.Add(testMat(ctx, c, h.board, h.open))
	}
	if !report.OK() {
		return failure.Failed
	}
	return failure.Done
}

// configProblems turns what is wrong with the file into results.
func configProblems(file string, err error) []check.Result {
	var all *config.Error
	if !errors.As(err, &all) {
		r := check.Result{Topic: "config", Level: check.Fail, Says: err.Error()}
		switch {
		case errors.Is(err, fs.ErrPermission):
			r.Says, r.Do = "you may not read "+file+".", "put sudo in front, or sudo -u leavend"
		case errors.Is(err, fs.ErrNotExist):
			r.Says = "there is no file " + file + "."
			r.Do = fmt.Sprintf("make one with every key explained: leavend config > %s; or say where it is: leavend check --config FILE", file)
		}
		return []check.Result{r}
	}
	var out []check.Result
	for _, p := range all.Problems {
		r := check.Result{Topic: "config", Level: check.Fail, Says: p.String(), Line: p.Line}
		if p.Line > 0 {
			r.Do = fmt.Sprintf("repair line %d of %s", p.Line, file)
		}
		out = append(out, r)
	}
	return out
}
