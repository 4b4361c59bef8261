package check

import (
	"context"
	"errors"
	"io/fs"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
)

// Checker is what a check looks at, so that tests can show it another board.
type Checker struct {
	Board Board
	I2c   BusOpener
	Open  hardware.Opener

	Prepare func([]config.Sensor, ...config.Bus) // nil where nothing is shared
}

// All fills the report and returns the exit code that belongs to it.
func (h Checker) All(ctx context.Context, report *Report, file string, switchMat bool) int {
	c, err := config.Load(file)
	if err != nil {
		report.Add(configProblems(file, err)...)
		return failure.Usage
	}
	_, running := h.Board.RunningWith(file)
	pid, busy := h.Board.RunningOn(c)
	if len(c.Vessels) == 0 && !c.Web.On {
		report.Add(fail("config", "check.config.nothing"))
	}
	report.Add(Explain(c)...)
	report.Add(checkBoard(c, h.Board, h.I2c, pid)...)
	report.Add(checkNetwork(ctx, c, h.Board, running)...)
	report.Add(checkHistory(ctx, c)...)
	if !busy {
		if h.Prepare != nil {
			h.Prepare(c.Sensors, c.Buses...)
		}
		report.Add(checkSensors(ctx, c, report, h.Open)...)
	}
	if c.Mat.Heats() {
		report.Add(CheckMat(c, h.Board)...)
	}
	if c.Mat.Heats() && switchMat {
		report.Add(testMat(ctx, c, h.Board, h.Open))
	}
	if !report.OK() {
		return failure.Failed
	}
	return failure.Done
}

// configProblems turns what is wrong with the file into results.
func configProblems(file string, err error) []Result {
	var all *config.Error
	if !errors.As(err, &all) {
		switch {
		case errors.Is(err, fs.ErrPermission):
			return []Result{fail("config", "check.config.rights", text.Name("file", file))}
		case errors.Is(err, fs.ErrNotExist):
			return []Result{fail("config", "check.config.missing", text.Name("file", file))}
		}
		return []Result{fail("config", "check.config.unreadable", text.Cause("err", err))}
	}
	var out []Result
	for _, p := range all.Problems {
		r := fail("config", "check.config.problem", text.Sub("problem", p.Explain()))
		if r.Line = p.Line; p.Line > 0 {
			r.Do = text.Say("check.config.repair_line", text.Number("line", float64(p.Line)), text.Name("file", file))
		}
		out = append(out, r)
	}
	return out
}
