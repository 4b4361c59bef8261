package vl53l1x

import (
	"context"
	"fmt"

	"leavend/sensor"
)

// Crosstalk measures how much light the cover glass throws back, for
// Opts.XtalkCPS, and the mean distance without correction. A grey target of 17 %
// reflectance must stand at the given distance, where the glass makes the
// readings fall short: ST suggests some 600 mm in the dark, in long mode, or
// any distance at which the readings are wrong by a tenth. Without a glass, or
// with a good one, the result is 0.
//
// The method is that of ST's driver (VL53L1X_calibration.c 3.5.0): the light of
// the glass is the part of all light by which the distance falls short, shared
// among the cells that look.
func (d *Dev) Crosstalk(ctx context.Context, targetMM float64, readings int) (cps int, meanMM float64, err error) {
	if !(targetMM >= d.opts.MinMM && targetMM <= d.opts.MaxMM) || readings < 1 {
		return 0, 0, d.reg.Fail("crosstalk", fmt.Errorf("a target at %v mm, %d readings: the target must stand within %v to %v mm", targetMM, readings, d.opts.MinMM, d.opts.MaxMM))
	}
	ours := d.opts.XtalkCPS
	d.opts.XtalkCPS, d.up = 0, false
	defer func() { d.opts.XtalkCPS, d.up = ours, false }()
	if err := d.setUp(ctx); err != nil {
		return 0, 0, err
	}
	var kcps, cells float64
	for range readings {
		b := d.measure(ctx)
		if err := d.take("crosstalk"); err != nil {
			return 0, 0, err
		}
		r, reason := d.judge(b)
		if reason != "" {
			return 0, 0, d.reg.Fail("crosstalk", &sensor.Refused{Reading: r, Reason: reason})
		}
		n := float64(readings)
		meanMM += r.Value / n
		kcps += r.Signal * 1000 / n
		cells += float64(uint16(b[3])<<8|uint16(b[4])) / 256 / n // effective cells, 8.8 fixed point
	}
	if cells == 0 || meanMM >= targetMM {
		return 0, meanMM, nil
	}
	return min(127_000, int(1000*kcps*(1-meanMM/targetMM)/cells)), meanMM, nil
}
