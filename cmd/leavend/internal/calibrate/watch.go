package calibrate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/peak"
)

// watchLeast is how long a still vessel must be watched: a wander remembers
// itself for minutes, so a shorter look shows one turn of it or none.
const watchLeast = 15 * time.Minute

// watch reads the still vessel and says how much its ranger wanders.
func (c *calibration) watch(ctx context.Context, long time.Duration) error {
	if long < watchLeast || long > 24*time.Hour {
		return failure.Misuse(fmt.Errorf("--watch: %v is not within 15m to 24h", long))
	}
	source, err := c.ranger()
	if err != nil {
		return err
	}
	c.talk.Say("Leave %s as it is, empty or with something that does not move. This takes %v.", c.vessel.Name, long)
	detector, every := peak.New(peak.Opts{}), c.vessel.Every
	tick := time.NewTicker(every)
	defer tick.Stop()
	for end := time.Now().Add(long); time.Now().Before(end); {
		limited, cancel := context.WithTimeout(ctx, hardware.ReadLimit)
		r, err := source.Read(limited)
		cancel()
		if err != nil {
			r.Value = math.NaN()
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
		return errors.New("no reading came; 'leavend check' may say why")
	}
	says, do := hardware.Wander(status)
	c.talk.Say("%s", says.In(c.conf.Reader()))
	if !do.IsZero() {
		c.talk.Say("%s", do.In(c.conf.Reader()))
	}
	return nil
}
