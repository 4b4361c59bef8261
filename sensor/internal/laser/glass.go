package laser

import (
	"context"
	"errors"
	"fmt"

	"leavend/sensor"
)

// Crosstalk measures how much light a cover glass throws back, in thousand
// counts a second, and the mean distance that the chip sees while it takes
// nothing off. A dull card that throws back little must stand at the given
// distance, in the dark, where the readings fall short: ST's notes ask for one
// of 17 % reflectance, and of 3 % at 100 mm for the VL6180X. Without a glass,
// or with a good one, the result is 0.
//
// The glass is at distance 0 and the chip sees the mean of all light, so the
// light of the glass is the part of it by which the distance falls short
// (VL53L1X_calibration.c 3.5.0; VL53L0X_perform_xtalk_calibration; AN4545,
// from memory), shared among the cells that look.
func (r *Ranger) Crosstalk(ctx context.Context, targetMM float64, readings int) (kcps, meanMM float64, err error) {
	if !(targetMM >= r.steps.MinMM && targetMM <= r.steps.MaxMM) || readings < 1 {
		return 0, 0, r.reg.Fail("crosstalk", fmt.Errorf("a card at %v mm, %d readings: it must lie %v to %v mm away", targetMM, readings, r.steps.MinMM, r.steps.MaxMM))
	}
	ours := *r.steps.TakenKcps
	*r.steps.TakenKcps, r.up = 0, false
	defer func() { *r.steps.TakenKcps, r.up = ours, false }()
	if err := r.ready(ctx); err != nil {
		return 0, 0, err
	}
	var n, light, cells float64
	for range readings {
		v, b, problem := r.measure(ctx, "crosstalk")
		var refused *sensor.Refused
		switch {
		case errors.As(problem, &refused):
			err = problem
			continue
		case problem != nil:
			return 0, 0, problem
		}
		n++
		meanMM += v.Value
		light += v.Signal * 1000
		cells += r.steps.Cells(b)
	}
	if n <= float64(readings)/2 {
		return 0, 0, fmt.Errorf("only %v of %d readings are good: %w", n, readings, err)
	}
	if meanMM /= n; cells == 0 || meanMM >= targetMM {
		return 0, meanMM, nil
	}
	return light * (1 - meanMM/targetMM) / cells, meanMM, nil
}
