package calibrate

import (
	"context"
	"math"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
)

// watchLeast is how long a still vessel must be watched: a wander remembers
// itself for minutes, so a shorter look shows one turn of it or none.
const watchLeast = 15 * time.Minute

// watch reads the still vessel and says how much its ranger wanders.
func (c *calibration) watch(ctx context.Context, long time.Duration) error {
	if long < watchLeast || long > 24*time.Hour {
		return failure.Misuse(text.Fail("cli.calibrate.watch_span", text.Name("span", text.Spell(long))))
	}
	source, err := c.ranger()
	if err != nil {
		return err
	}
	c.talk.Say("cli.calibrate.watching", c.name(), text.Duration("span", long))
	detector, every := peak.New(peak.Opts{}), c.vessel.Every
	tick := time.NewTicker(every)
	defer tick.Stop()
	var last error
	for end := time.Now().Add(long); time.Now().Before(end); {
		limited, cancel := context.WithTimeout(ctx, hardware.ReadLimit)
		r, err := source.Read(limited)
		cancel()
		if err != nil {
			r.Value, last = math.NaN(), err
		}
		detector.Add(time.Now(), -r.Value, math.NaN())
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
		}
	}
	status := detector.Status()
	if math.IsNaN(status.HeightMM) {
		return text.Fail("cli.calibrate.unread", text.Name("eye", c.eye.Name), text.Cause("err", last))
	}
	says, do := hardware.Wander(status)
	c.talk.Tell(says)
	if !do.IsZero() {
		c.talk.Tell(do)
	}
	return nil
}
