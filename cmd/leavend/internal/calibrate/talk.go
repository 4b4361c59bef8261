package calibrate

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
)

// talk asks for measures on the terminal.
type talk struct{ *prompt.Terminal }

// length asks for a length until one is typed that can be; ok is false for a
// bare Enter.
func (t talk) length(ctx context.Context, low, high float64, key string, args ...text.Arg) (mm float64, ok bool, err error) {
	for {
		t.Print("")
		typed, err := t.Ask(ctx, key, args...)
		if err != nil || typed == "" {
			return 0, false, err
		}
		if mm, err = lengthOf(typed, low, high); err == nil {
			return mm, true, nil
		}
		t.Say("cli.calibrate.again", text.Cause("why", err))
	}
}

// parseMM reads the length of a flag.
func parseMM(flag, typed string, low, high float64) (float64, error) {
	mm, err := lengthOf(typed, low, high)
	if err != nil {
		err = fmt.Errorf("%s: %w", flag, err)
	}
	return mm, err
}

// lengthOf reads a length: a number of mm, or one with mm, cm or in behind it.
func lengthOf(typed string, low, high float64) (float64, error) {
	number, scale := strings.ToLower(strings.TrimSpace(typed)), 1.0
	for unit, mm := range map[string]float64{"mm": 1, "cm": 10, "in": 25.4, `"`: 25.4} {
		if rest, ok := strings.CutSuffix(number, unit); ok {
			number, scale = strings.TrimSpace(rest), mm
			break
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
	v *= scale
	switch {
	case err != nil || v != v:
		return 0, text.Fail("cli.calibrate.no_length", text.Name("typed", typed))
	case v < low || v > high:
		return 0, text.Fail("cli.calibrate.outside", text.Name("typed", typed), text.Length("low", low), text.Length("high", high))
	}
	return v, nil
}
