package calibrate

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
)

// talk asks for measures on the terminal.
type talk struct{ *prompt.Terminal }

// length asks for a length until one is typed that can be; ok is false for a
// bare Enter.
func (t talk) length(ctx context.Context, low, high float64, format string, args ...any) (mm float64, ok bool, err error) {
	for {
		typed, err := t.Ask(ctx, format, args...)
		if err != nil || typed == "" {
			return 0, false, err
		}
		if mm, err = parseMM("that will not do", typed, low, high); err == nil {
			return mm, true, nil
		}
		t.Say("  %s", text.Capital(err.Error()))
	}
}

// parseMM reads a length: a number of mm, or one with mm, cm or in behind it.
func parseMM(name, text string, low, high float64) (float64, error) {
	number, scale := strings.ToLower(strings.TrimSpace(text)), 1.0
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
		return 0, fmt.Errorf("%s: %q is no length; type it as 60, 6cm or 2.5in", name, text)
	case v < low || v > high:
		return 0, fmt.Errorf("%s: %s is not within %g to %g mm", name, text, low, high)
	}
	return v, nil
}

// show returns a length in the units that people are shown.
func (c *calibration) show(mm float64) string {
	if c.conf.Units == config.US {
		return fmt.Sprintf("%.2f in", mm/25.4)
	}
	return fmt.Sprintf("%.1f mm", mm)
}
