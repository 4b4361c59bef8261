package calibrate

import (
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
	"leavend/sensor/jar"
	"leavend/sensor/noise"
)

const (
	calibrateReads = 30  // for one level; from noise.Enough on their correlation can be told
	slowReads      = 10  // of a sensor elsewhere, whose numbers come when they come
	wantedMM       = 0.5 // how well a level should be known: what a ruler can tell
	noisyMM        = 4   // straying more than this is worth a look
)

// measured is one level, as several readings show it.
type measured struct {
	noise.Stats
	out int // readings that stood out and were left out
}

// sampleLevel reads a still surface several times.
func sampleLevel(ctx context.Context, source sensor.Source, s config.Sensor) (measured, error) {
	n, patience := calibrateReads, hardware.ReadLimit
	if s.Chip == config.Topic {
		n, patience = slowReads, max(hardware.MessageLimit, s.MaxAge)
	}
	values, lost, err := takeReadings(ctx, &unrepeated{source: source}, n, patience)
	if len(values) <= n/2 {
		return measured{}, text.Fail("cli.calibrate.few", text.Number("n", float64(len(values))), text.Number("of", float64(len(values)+lost)), text.Cause("err", err))
	}
	kept := withoutStrays(values)
	m := measured{Stats: noise.Of(kept), out: len(values) - len(kept)}
	m.Failed = lost
	return m, nil
}

// takeReadings reads a source n times. It gives up after five failures on end.
func takeReadings(ctx context.Context, source sensor.Source, n int, patience time.Duration) (values []float64, lost int, last error) {
	for onEnd := 0; len(values)+lost < n && onEnd < 5; {
		limited, cancel := context.WithTimeout(ctx, patience)
		r, err := source.Read(limited)
		cancel()
		if ctx.Err() != nil {
			return nil, lost, ctx.Err()
		}
		if err != nil {
			onEnd, lost, last = onEnd+1, lost+1, err
			continue
		}
		onEnd, values = 0, append(values, r.Value)
	}
	return values, lost, last
}

// withoutStrays leaves out what is farther from the median than three times
// the usual: a hand, or a glint. 1.4826 times the median distance from the
// median is the standard deviation where the noise is normal.
func withoutStrays(values []float64) []float64 {
	middle := noise.Of(values).Median
	var away []float64
	for _, v := range values {
		away = append(away, math.Abs(v-middle))
	}
	limit := max(3*1.4826*noise.Of(away).Median, 2)
	return slices.DeleteFunc(slices.Clone(values), func(v float64) bool { return math.Abs(v-middle) > limit })
}

// notes say how good a level is, each in a sentence.
func (m measured) notes(every time.Duration) (out []text.Message) {
	add := func(key string, args ...text.Arg) { out = append(out, text.Say(key, args...)) }
	if m.Failed+m.out > 0 {
		add("cli.calibrate.left_out", text.Number("lost", float64(m.Failed)), text.Number("out", float64(m.out)))
	}
	if m.SD == 0 {
		add("cli.calibrate.all_same")
		return out
	}
	stray, wanted := text.Length("sd", m.SD), text.Length("wanted", wantedMM)
	n, ok := m.Samples(wantedMM, 100)
	switch {
	case ok && n == 1:
		add("cli.calibrate.stray_little", stray)
	case ok:
		add("cli.calibrate.stray_mean", stray, wanted, text.Count("n", n), text.Duration("takes", time.Duration(n)*every))
	case m.N < noise.Enough:
		add("cli.calibrate.stray", stray)
	default:
		add("cli.calibrate.stray_much", stray, wanted)
	}
	if m.SD > noisyMM {
		add("cli.calibrate.noisy")
	}
	return out
}

// unrepeated is a source that waits for a new reading where the last one is
// still the newest, as with a sensor elsewhere.
type unrepeated struct {
	source sensor.Source
	last   time.Time
}

// Read returns the next new reading.
func (u *unrepeated) Read(ctx context.Context) (sensor.Reading, error) {
	for {
		r, err := u.source.Read(ctx)
		if err != nil || r.At.IsZero() || !r.At.Equal(u.last) {
			u.last = r.At
			return r, err
		}
		select {
		case <-ctx.Done():
			return sensor.Reading{}, errors.New("no new reading came")
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// tell says what was found.
func (c *calibration) tell(fit jar.Fit) {
	c.talk.Print("")
	c.talk.Say("cli.calibrate.found", text.Length("deep", fit.FloorMM))
	for _, w := range fit.Warnings {
		c.talk.Say("cli.calibrate.look_again", text.Name("why", w))
	}
	if bore := c.shape.BottomMM; bore > 0 {
		c.tellReach(bore, fit.FloorMM)
	}
	if c.shape.BottomMM > 0 && c.shape.HeightMM > 0 {
		c.talk.Say("cli.calibrate.holds", text.Length("high", c.shape.HeightMM), text.Number("ml", math.Round(c.shape.VolumeML(c.shape.HeightMM))))
	}
}

// tellReach warns where the sensor's cone meets the wall before the floor.
func (c *calibration) tellReach(bore, floor float64) {
	angle := map[config.Chip]float64{config.VL53L0X: 25, config.VL6180X: 25, config.VL53L4CD: 18, config.VL53L1X: 27, config.Ultrasonic: 15}[c.eye.Chip]
	key := "cli.calibrate.wall"
	if c.eye.Chip == config.VL53L1X {
		switch cells := min(c.eye.ROI[0], c.eye.ROI[1]); {
		case cells <= 4:
			angle = 15
		case cells <= 8:
			angle, key = 20, "cli.calibrate.wall_roi"
		default:
			key = "cli.calibrate.wall_roi"
		}
	}
	if reach := jar.ReachMM(bore, angle); angle > 0 && reach < floor {
		c.talk.Say(key, text.Length("reach", reach))
	}
}
