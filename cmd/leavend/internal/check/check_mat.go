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
		return append(out, fail("mat", "check.mat.toy"))
	}
	out = append(out, b.Watchdog(), checkPromise(c.Mat), checkSwitch(c.Mat))
	return append(out, Result{Topic: "cautions", Level: Note, Says: heating.CautionText()})
}

// Consent asks on the terminal whether the mat may be switched on.
func Consent(ctx context.Context, in io.Reader, out io.Writer, r text.Reader) error {
	t := prompt.New(in, out, r)
	t.Print(heating.CautionText().In(r) + "\n")
	t.Say("check.test.consent", text.Duration("span", matTestTime))
	return t.Confirm(ctx, "cli.yes")
}

// mayHeat says why a mat must not be tested now; the zero message where it may. A mat is never
// switched on without a thermometer that answers and is well below its cutoff.
func mayHeat(ctx context.Context, c *config.Config, open hardware.Opener) text.Message {
	s, ok := c.Sensor(c.Mat.Probe)
	if !ok {
		return text.Say("check.test.no_probe")
	}
	if s.Chip == config.Topic {
		return text.Say("check.test.probe_elsewhere")
	}
	wires, err := open(s)
	if err != nil {
		return text.Say("check.test.probe_unopened", text.Cause("err", err))
	}
	for _, w := range wires {
		if w.Quantity != sensor.Temperature {
			continue
		}
		values, errs := hardware.ReadSome(ctx, w.Source, c.Mat.StartReadings)
		if len(values) < c.Mat.StartReadings {
			return text.Say("check.test.probe_silent", text.Name("err", fmt.Sprint(errors.Join(errs...))))
		}
		for _, v := range values {
			if v > c.Mat.CutoffVesselC-control.SetpointMarginC || v < 0 {
				return text.Say("check.test.probe_hot", text.Temp("temp", v))
			}
		}
		return text.Message{}
	}
	return text.Say("check.test.probe_other")
}

// tryMat switches an output on for a while and off again, whatever happens in
// between, and wants each confirmed where the output can. The lease is there
// for the case that this process is stopped.
func tryMat(ctx context.Context, out control.Output, on time.Duration) (r Result) {
	defer func() {
		// The mat goes off even if the baker has pressed Ctrl-C, which ends ctx.
		off, cancel := context.WithTimeout(context.WithoutCancel(ctx), hardware.ReadLimit+echoPatience)
		defer cancel()
		err := out.Off(off)
		if err == nil {
			err = heating.Confirmed(off, out, echoPatience)
		}
		if err != nil {
			r = fail(matTest, "check.test.stuck", text.Cause("err", err))
		}
	}()
	err := out.On(ctx, on+2*time.Second)
	if err == nil {
		err = heating.Confirmed(ctx, out, echoPatience)
	}
	if err != nil {
		return fail(matTest, "check.test.fails", text.Cause("err", err))
	}
	deadline := time.NewTimer(on)
	defer deadline.Stop()
	select {
	case <-ctx.Done():
		return fail(matTest, "check.test.broken_off")
	case <-deadline.C:
	}
	return pass(matTest, "check.test.done", text.Name("output", fmt.Sprint(out)), text.Duration("span", on))
}

// matTest is the topic of the test of a mat.
const matTest = "mat test"

// notDone is a test that was not made.
func notDone(why text.Message) Result {
	return fail(matTest, "check.test.not_done", text.Sub("why", why))
}

// testMat tests a mat on a GPIO line, if all is fit for it.
func testMat(ctx context.Context, c *config.Config, b Board, open hardware.Opener) Result {
	if pid, ok := b.RunningOn(c); ok {
		return fail(matTest, "check.test.running", text.Name("pid", pid))
	}
	if why := mayHeat(ctx, c, open); !why.IsZero() {
		return notDone(why)
	}
	if c.Mat.Output == config.Plug {
		return testPlug(ctx, c, testNote(), matTestTime)
	}
	out, err := heating.OpenOutput(c, testNote(), nil)
	if err != nil {
		return notDone(written(err.Error()))
	}
	return tryMat(ctx, out, matTestTime)
}

// testNote is where a test leaves the note of the mat that it switches on.
func testNote() string { return filepath.Join(heating.UsualFolders()[0], heating.NoteName) }
