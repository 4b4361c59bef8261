package check

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
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
	pid, running := h.Board.RunningWith(file)
	if len(c.Vessels) == 0 && !c.Web.On {
		report.Add(Result{Topic: "config", Level: Fail, Says: "there is nothing to watch, and no page to set something up with, so leavend ends at once.",
			Do: "add a [[sensor]] and a [[vessel]], see 'leavend config', or set web.on = true"})
	}
	report.Add(Explain(c)...)
	report.Add(checkBoard(c, h.Board, h.I2c, pid)...)
	report.Add(checkNetwork(ctx, c, h.Board, running)...)
	report.Add(checkHistory(ctx, c)...)
	if !running {
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
		r := Result{Topic: "config", Level: Fail, Says: err.Error()}
		switch {
		case errors.Is(err, fs.ErrPermission):
			r.Says, r.Do = "you may not read "+file+".", "put sudo in front, or sudo -u leavend"
		case errors.Is(err, fs.ErrNotExist):
			r.Says = "there is no file " + file + "."
			r.Do = fmt.Sprintf("make one with every key explained: leavend config > %s; or say where it is: leavend check --config FILE", file)
		}
		return []Result{r}
	}
	var out []Result
	for _, p := range all.Problems {
		r := Result{Topic: "config", Level: Fail, Says: p.String(), Line: p.Line}
		if p.Line > 0 {
			r.Do = fmt.Sprintf("repair line %d of %s", p.Line, file)
		}
		out = append(out, r)
	}
	return out
}
