// Package ultrasonic drives rangers that time an echo: HC-SR04, JSN-SR04T and
// their like. A pulse of 10 µs on one pin makes them send a burst of 40 kHz;
// the other pin is high for as long as the sound is under way.
//
// Think twice before hanging one over a jar:
//
//   - A rising starter fills the jar with carbon dioxide, in which sound is
//     slower. The surface seems farther away than it is: by 3 % with a tenth of
//     CO2 in the air, by 15 % with a half. Over an open,
//     wide bowl the gas flows off; over a covered jar use a laser.
//   - The cone is 15° wide, and the vendor asks for a smooth target of half a
//     square metre. A jar's wall gives echoes of its own.
//   - The pin is watched by a program and not by a clock in hardware. 58 µs are
//     a centimetre. The time of an edge is therefore the kernel's, taken in its
//     interrupt, and not that at which this program hears of it, which is some
//     ten to a hundred microseconds later; and each reading is the median of
//     many pings. What is left is how late the interrupt itself is: a few
//     microseconds on a quiet board, a millimetre or so (an estimate).
//   - The echo pin of a 5 V module needs a divider before a 3.3 V board.
//
// HC-SR04: 20 mm to 4 m. JSN-SR04T is blind below 200 to 250 mm: set MinMM.
//
// Sources: vendor data sheet of the HC-SR04 (timing); Cramer, "The variation of
// the specific heat ratio and the speed of sound in air", J. Acoust. Soc. Am.
// 93 (1993) 2510. Nothing here was run on hardware.
package ultrasonic

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"periph.io/x/conn/v3/gpio"

	"leavend/sensor"
	"leavend/sensor/noise"
)

// Pings is the most that one reading may take.
const Pings = 31

// Opts is how the ranger is used.
type Opts struct {
	Pings    int     // sent for one reading, 1 to 31; 0 means 9
	MinMM    float64 // nearer than this is the ranger's own ringing; 0 means 20
	MaxMM    float64 // farther than this is no vessel; 0 means 1000
	AirC     float64 // temperature of the air, used where Air has none; 0 means 22
	Humidity float64 // of the air, percent; 0 means 50. Dry to wet is 0.3 %

	// Air returns the temperature of the air now, if it is known. 1 °C is
	// 0.17 % of the distance.
	Air func() (tempC float64, ok bool)
}

// Dev is one ranger.
type Dev struct {
	trigger gpio.PinOut
	echo    Echo
	opts    Opts
	up      bool
	mm      [Pings]float64
}

// Echo is the line on which the echo comes in.
type Echo interface {
	Watch() error                            // makes it an input whose edges are noted
	High() (bool, error)                     // its level now
	Edge(timeout time.Duration) (Edge, bool) // the next edge, or false when the time is over
	String() string
}

// Edge is a change of the echo line.
type Edge struct {
	High   bool
	At     time.Duration // when the kernel saw it, from any fixed time on
	Number uint32        // of the edge: one more than that of the one before
}

// New returns the ranger on two pins. It does not touch them.
func New(trigger gpio.PinOut, echo Echo, opts Opts) (*Dev, error) {
	d := &Dev{trigger: trigger, echo: echo, opts: opts}
	o := &d.opts
	if o.Pings == 0 {
		o.Pings = 9
	}
	for _, v := range []struct {
		p      *float64
		preset float64
	}{{&o.MinMM, 20}, {&o.MaxMM, 1000}, {&o.AirC, 22}, {&o.Humidity, 50}} {
		if *v.p == 0 {
			*v.p = v.preset
		}
	}
	switch {
	case o.Pings < 1 || o.Pings > Pings:
		return nil, fmt.Errorf("%s: %d pings are not within 1 to %d", d, o.Pings, Pings)
	case !(o.MinMM >= 0 && o.MinMM < o.MaxMM && o.MaxMM <= 4000):
		return nil, fmt.Errorf("%s: range %v to %v mm makes no sense", d, o.MinMM, o.MaxMM)
	case !(o.AirC >= 0 && o.AirC <= 30) || !(o.Humidity >= 0 && o.Humidity <= 100):
		return nil, fmt.Errorf("%s: air of %v °C and %v %% is outside the formula, 0 to 30 °C", d, o.AirC, o.Humidity)
	}
	return d, nil
}

// String names the ranger by its pins.
func (d *Dev) String() string { return fmt.Sprintf("ultrasonic %s/%s", d.trigger, d.echo) }

// Halt lets the trigger rest.
func (d *Dev) Halt() error {
	d.up = false
	return d.trigger.Out(gpio.Low)
}

// What may be wrong with an echo. The pings of a reading may fail each in its
// own way; the reading's error tells the last.
var (
	errNoRise  = errors.New("the echo pin did not rise: not wired, or without power")
	errNoEcho  = errors.New("no echo came back: nothing within reach, or a soft or slanted surface")
	errHigh    = errors.New("the echo pin is high before the ping: shorted, or an echo of the ping before")
	errTooMany = errors.New("edges were missed: the board is too busy")
)

// rest is the time from ping to ping (vendor: at least 60 ms), in which the
// room falls silent.
const rest = 60 * time.Millisecond

// Read pings, and returns the median of the distances. Its Sigma is the
// spread from ping to ping, put down to the median of as many.
func (d *Dev) Read(ctx context.Context) (sensor.Reading, error) {
	at := time.Now()
	speed := d.speed()
	n := 0
	var last error
	for i := range d.opts.Pings {
		if i > 0 {
			time.Sleep(rest)
		}
		if err := ctx.Err(); err != nil {
			d.up = false
			return sensor.Reading{}, fmt.Errorf("%s: read: %w", d, err)
		}
		took, err := d.ping()
		if err != nil {
			last = err
			continue
		}
		d.mm[n] = took.Seconds() * 1000 / 2 * speed
		n++
	}
	if 2*n <= d.opts.Pings {
		d.up = false
		return sensor.Reading{}, fmt.Errorf("%s: read: %d of %d pings failed, the last one: %w", d, d.opts.Pings-n, d.opts.Pings, last)
	}
	r := sensor.Reading{At: at, Quantity: sensor.Distance}
	r.Value, r.Sigma = middle(d.mm[:n])
	if r.Value < d.opts.MinMM || r.Value > d.opts.MaxMM {
		return sensor.Reading{}, fmt.Errorf("%s: read: %w", d, &sensor.Refused{Reading: r, Reason: fmt.Sprintf("outside %v to %v mm", d.opts.MinMM, d.opts.MaxMM)})
	}
	return r, nil
}

// speed returns the speed of sound in the air now, m/s.
func (d *Dev) speed() float64 {
	tempC := d.opts.AirC
	if d.opts.Air != nil {
		if t, ok := d.opts.Air(); ok && t >= 0 && t <= 50 {
			tempC = t
		}
	}
	return Speed(tempC, d.opts.Humidity)
}

// setUp makes the pins ready.
func (d *Dev) setUp() error {
	if err := d.trigger.Out(gpio.Low); err != nil {
		return fmt.Errorf("trigger: %w", err)
	}
	if err := d.echo.Watch(); err != nil {
		return fmt.Errorf("echo: %w", err)
	}
	d.up = true
	return nil
}

// ping sends one burst and returns how long its echo took.
func (d *Dev) ping() (time.Duration, error) {
	if !d.up {
		if err := d.setUp(); err != nil {
			return 0, err
		}
	}
	for i := 0; ; i++ { // Edges from before do not count.
		if _, ok := d.echo.Edge(0); !ok {
			break
		} else if i > 1000 {
			return 0, errTooMany
		}
	}
	if high, err := d.echo.High(); err != nil {
		return 0, fmt.Errorf("echo: %w", err)
	} else if high {
		return 0, errHigh
	}
	if err := d.trigger.Out(gpio.High); err != nil {
		return 0, fmt.Errorf("trigger: %w", err)
	}
	time.Sleep(10 * time.Microsecond)
	if err := d.trigger.Out(gpio.Low); err != nil {
		return 0, fmt.Errorf("trigger: %w", err)
	}
	return d.listen()
}

// listen times the echo pin's pulse. The longest one, 38 ms, says that nothing
// came back.
func (d *Dev) listen() (time.Duration, error) {
	rise, ok := d.echo.Edge(20 * time.Millisecond)
	if !ok {
		return 0, errNoRise
	}
	if !rise.High {
		return 0, errTooMany
	}
	fall, ok := d.echo.Edge(50 * time.Millisecond)
	took := fall.At - rise.At
	switch {
	case !ok || took > 30*time.Millisecond:
		return 0, errNoEcho
	case fall.High || fall.Number != rise.Number+1:
		return 0, errTooMany
	}
	return took, nil
}

// middle returns the median, and the standard error of a median whose sample
// has the given spread: 1.4826 times the median deviation stands for the
// standard deviation, and a median is 1.2533 times as uncertain as a mean
// (both for Gaussian noise). It puts v in order.
func middle(v []float64) (median, sigma float64) {
	slices.Sort(v)
	median = noise.Middle(v)
	for i := range v {
		v[i] = math.Abs(v[i] - median)
	}
	slices.Sort(v)
	return median, 1.2533 * 1.4826 * noise.Middle(v) / math.Sqrt(float64(len(v)))
}
