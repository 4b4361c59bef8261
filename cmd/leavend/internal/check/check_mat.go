package check

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/sensor"
)

// matTestTime is how long the test leaves a mat on: long enough to see a lamp
// or hear a relay, far too short to warm anything.
const matTestTime = 5 * time.Second

// echoPatience is how long a plug may take to confirm in a test.
const echoPatience = 10 * time.Second

// CheckMat looks at what a heater needs beside its output, and says the
// cautions.
func CheckMat(c *config.Config, b Board) []Result {
	var out []Result
	if c.Mat.Output == config.GPIO {
		out = append(out, b.Persistence())
	}
	if c.Mat.Output == config.Toy {
		return append(out, Result{Topic: "mat", Level: Fail, Says: "its output belongs to the simulated kitchen, which only 'leavend demo' has: leavend ends at once.",
			Do: "set mat.output to \"gpio\", \"plug\" or \"none\""})
	}
	out = append(out, b.Watchdog(), checkPromise(c.Mat), checkSwitch(c.Mat))
	return append(out, Result{Topic: "cautions", Level: Note, Says: control.Cautions})
}

// Consent asks on the terminal whether the mat may be switched on.
func Consent(in io.Reader, out io.Writer) bool {
	return prompt.Yes(in, out, fmt.Sprintf("%s\nThe mat will be switched on for %s, and off again. Look at it, and listen for its switch.\nType yes to go on: ", control.Cautions, matTestTime))
}

// mayHeat says why a mat must not be tested now, or nothing. A mat is never
// switched on without a thermometer that answers and is well below its cutoff.
func mayHeat(ctx context.Context, c *config.Config, open hardware.Opener) string {
	s, ok := c.Sensor(c.Mat.Probe)
	if !ok {
		return "it has no probe"
	}
	if s.Chip == config.Topic {
		return "its probe is elsewhere, and is heard only while leavend runs; switch the mat on from the page instead"
	}
	wires, err := open(s)
	if err != nil {
		return fmt.Sprintf("its probe cannot be opened: %v", err)
	}
	for _, w := range wires {
		if w.Quantity != sensor.Temperature {
			continue
		}
		values, errs := hardware.ReadSome(ctx, w.Source, c.Mat.StartReadings)
		if len(values) < c.Mat.StartReadings {
			return fmt.Sprintf("its probe does not answer: %v", errors.Join(errs...))
		}
		for _, v := range values {
			if v > c.Mat.CutoffVesselC-control.SetpointMarginC || v < 0 {
				return fmt.Sprintf("its probe says %s, and a mat is not switched on at that", c.Degrees(v))
			}
		}
		return ""
	}
	return "its probe takes no temperature"
}

// tryMat switches an output on for a while and off again, whatever happens in
// between, and wants each confirmed where the output can. The lease is there
// for the case that this process is stopped.
func tryMat(ctx context.Context, out control.Output, on time.Duration) (r Result) {
	r = Result{Topic: "mat test", Level: Fail}
	defer func() {
		// The mat goes off even if the baker has pressed Ctrl-C, which ends ctx.
		off, cancel := context.WithTimeout(context.WithoutCancel(ctx), hardware.ReadLimit+echoPatience)
		defer cancel()
		err := out.Off(off)
		if err == nil {
			err = heating.Confirmed(off, out, echoPatience)
		}
		if err != nil {
			r.Level = Fail
			r.Says = fmt.Sprintf("the mat could not be switched off: %v.", err)
			r.Do = "pull the mat's plug now"
		}
	}()
	err := out.On(ctx, on+2*time.Second)
	if err == nil {
		err = heating.Confirmed(ctx, out, echoPatience)
	}
	if err != nil {
		r.Says = fmt.Sprintf("it could not be switched on: %v.", err)
		r.Do = "see what the lines about gpio or mqtt say"
		return r
	}
	deadline := time.NewTimer(on)
	defer deadline.Stop()
	select {
	case <-ctx.Done():
		r.Says = "the test was broken off; the mat is off."
		r.Do = "run it again"
		return r
	case <-deadline.C:
	}
	r.Level = Pass
	r.Says = fmt.Sprintf("%s was on for %s and is off again. If nothing was to be seen or heard, check its wires.", out, text.Spell(on))
	return r
}

// testMat tests a mat on a GPIO line, if all is fit for it.
func testMat(ctx context.Context, c *config.Config, b Board, open hardware.Opener) Result {
	r := Result{Topic: "mat test", Level: Fail, Do: "put that right, then run the test again"}
	if pid, ok := b.Running(); ok {
		r.Says = fmt.Sprintf("not done: leavend is running (process %s) and holds the mat.", pid)
		r.Do = "sudo systemctl stop leavend, then run the test again"
		return r
	}
	if why := mayHeat(ctx, c, open); why != "" {
		r.Says = "not done: " + why + "."
		return r
	}
	if c.Mat.Output == config.Plug {
		return testPlug(ctx, c, testNote(), matTestTime)
	}
	out, err := heating.OpenOutput(c, testNote(), nil)
	if err != nil {
		r.Says = fmt.Sprintf("not done: %v.", err)
		return r
	}
	return tryMat(ctx, out, matTestTime)
}

// testNote is where a test leaves the note of the mat that it switches on.
func testNote() string { return filepath.Join(heating.UsualFolders()[0], heating.NoteName) }
