// Package topic turns the messages on an MQTT topic into readings, so that a
// microcontroller anywhere in the kitchen can be the sensor. It decodes only;
// the client that subscribes lives elsewhere and calls Message.
//
// A payload is a plain number, such as 23.4, or a JSON document in which a
// path names the number: "ds18b20.temp" or "sensors.0.mm". Numbers in quotes
// are taken too, for much firmware sends them so.
//
// A message has an age. One older than MaxAge is no reading any more. A
// retained message is one the broker kept, from a second ago or a year ago;
// cannot be known, so it is refused unless the document carries its own time.
//
// A message that cannot be read makes the source fail until a good one comes:
// firmware that starts to send "unavailable" says that it has no reading.
package topic

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"leavend/sensor"
)

// MaxPayload bounds a message. A reading takes some hundred bytes.
const MaxPayload = 64 << 10

// Opts says how a topic's payload becomes a reading.
type Opts struct {
	Quantity  sensor.Quantity // what the number measures; required
	Field     string          // path of the number in a JSON document; empty: the payload is the number
	TimeField string          // path of the time it was taken: RFC 3339 with or without a zone, or Unix seconds or milliseconds
	Unit      string          // unit of the number; empty means mm, °C or % by the quantity
	Scale     float64         // the number is multiplied by this first; 0 means 1
	MaxAge    time.Duration   // how long a message holds; 0 means 2 min
}

// Why a topic has no reading. The daemon tells these apart when it says how
// the sensor is.
var (
	ErrNone     = errors.New("no message has come yet")
	ErrRetained = errors.New("the broker kept this message, and its age is unknown; let the device send it without the retain flag, or add a time to it")
	ErrOld      = errors.New("the last message is too old")
	ErrCoarse   = errors.New("the distances come in steps that are too long to see a rise")
)

// Source is one topic. Message and Read may be called from different
// goroutines.
type Source struct {
	name  string
	opts  Opts
	scale unit

	mu   sync.Mutex // guards what follows
	last sensor.Reading
	err  error

	coarse int // distances on end whose last digit is too long a step
}

// New returns the source of the named topic.
func New(name string, opts Opts) (*Source, error) {
	scale, err := findUnit(opts.Quantity, opts.Unit)
	if err != nil {
		return nil, fmt.Errorf("topic %s: %w", name, err)
	}
	if opts.Scale == 0 {
		opts.Scale = 1
	}
	if opts.MaxAge == 0 {
		opts.MaxAge = 2 * time.Minute
	}
	if math.IsNaN(opts.Scale) || math.IsInf(opts.Scale, 0) || opts.MaxAge < 0 {
		return nil, fmt.Errorf("topic %s: scale or age makes no sense: %+v", name, opts)
	}
	return &Source{name: name, opts: opts, scale: scale, err: ErrNone}, nil
}

// String names the topic.
func (s *Source) String() string { return "topic " + s.name }

// Message takes a payload that came at the given time; retained is the flag
// that the broker set on it. The error, which says why it is no reading, is
// the one that Read gives until a better message comes.
func (s *Source) Message(payload []byte, at time.Time, retained bool) error {
	r, err := s.decode(payload, at, retained)
	if err != nil {
		err = fmt.Errorf("%s: %w", s, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err == nil && s.err == nil && r.At.Before(s.last.At) {
		return nil // An older message that overtook nothing: keep the newer one.
	}
	if errors.Is(err, ErrRetained) && !s.last.At.IsZero() {
		return err // A reconnect brings it again; it says nothing new.
	}
	s.last, s.err = r, err
	return err
}

// Read returns the last message's reading, or why there is none. Its time is
// when the message came, or the time it carries, so a reading read twice is
// seen to be the same one.
func (s *Source) Read(ctx context.Context) (sensor.Reading, error) {
	if err := ctx.Err(); err != nil {
		return sensor.Reading{}, fmt.Errorf("%s: read: %w", s, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.err == ErrNone {
		return sensor.Reading{}, fmt.Errorf("%s: %w", s, ErrNone)
	}
	if s.err != nil {
		return sensor.Reading{}, s.err
	}
	if age := time.Since(s.last.At); age > s.opts.MaxAge {
		return sensor.Reading{}, fmt.Errorf("%s: %w: %v, the limit is %v", s, ErrOld, age.Round(time.Second), s.opts.MaxAge)
	}
	return s.last, nil
}

// decode turns a payload into a reading.
func (s *Source) decode(payload []byte, at time.Time, retained bool) (sensor.Reading, error) {
	if len(payload) == 0 {
		return sensor.Reading{}, errors.New("the message is empty")
	}
	if len(payload) > MaxPayload {
		return sensor.Reading{}, fmt.Errorf("the message has %d bytes, more than %d", len(payload), MaxPayload)
	}
	p, err := s.parse(payload)
	if err != nil {
		return sensor.Reading{}, err
	}
	if retained && p.stamp.IsZero() {
		return sensor.Reading{}, ErrRetained
	}
	taken, err := s.taken(at, p.stamp)
	if err != nil {
		return sensor.Reading{}, err
	}
	v := s.scale.convert(p.value * s.opts.Scale)
	if !(v >= s.scale.min && v <= s.scale.max) {
		return sensor.Reading{}, fmt.Errorf("%s %v lies outside %v to %v", s.opts.Quantity, v, s.scale.min, s.scale.max)
	}
	if err := s.fineEnough(p.step); err != nil {
		return sensor.Reading{}, err
	}
	return sensor.Reading{At: taken, Quantity: s.opts.Quantity, Value: v}, nil
}

// coarseMM is too long a step of a distance: a starter rises by as much in an
// hour. coarseAfter is how many messages on end must be so coarse, for a number
// whose last digits are zero is often written without them.
const (
	coarseMM    = 5
	coarseAfter = 10
)

// fineEnough returns an error once the distances have come in steps that are
// too long, as from firmware that sends metres with two decimals.
func (s *Source) fineEnough(step float64) error {
	if s.opts.Quantity != sensor.Distance {
		return nil
	}
	mm := math.Abs(step * s.opts.Scale * s.scale.scale)
	s.mu.Lock()
	defer s.mu.Unlock()
	if mm < coarseMM {
		s.coarse = 0
		return nil
	}
	if s.coarse++; s.coarse < coarseAfter {
		return nil
	}
	return fmt.Errorf("%w: steps of %.3g mm; have the device send millimetres, or metres with three decimals", ErrCoarse, mm)
}

// taken returns when the reading was taken: at its arrival, less the age that
// its own time gives it. The subtraction keeps the monotonic clock.
func (s *Source) taken(at, stamp time.Time) (time.Time, error) {
	if stamp.IsZero() {
		return at, nil
	}
	age := at.Sub(stamp)
	if age < -s.opts.MaxAge {
		return at, fmt.Errorf("the message carries a time %v in the future; set the device's clock", -age)
	}
	return at.Add(-max(age, 0)), nil
}
