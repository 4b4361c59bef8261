package publish

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
	"time"

	"leavend/sensor"
)

// Feed is a sensor elsewhere whose numbers arrive on a topic. It implements
// sensor.Source: Read returns the next number that arrives, or an error when
// none has come for Opts.MaxAge.
type Feed struct {
	topic string
	opts  FeedOpts
	now   func() time.Time

	mu    sync.Mutex // guards all below
	last  sensor.Reading
	err   error // why the last message was no reading
	fresh chan struct{}
}

// FeedOpts say how a Feed reads its messages.
type FeedOpts struct {
	Quantity sensor.Quantity // what the number measures; needed
	Field    string          // dotted path of the number in a JSON message; empty if the message is the number
	Scale    float64         // the number times Scale is in the quantity's unit; default 1
	MaxAge   time.Duration   // without a message for this long, Read fails; default 1 minute
}

// ErrNoMessage says that nothing came on the topic in time.
var ErrNoMessage = errors.New("no message came")

// Feed subscribes to topic and returns the sensor that speaks there.
func (c *Client) Feed(topic string, o FeedOpts) (*Feed, error) {
	if err := CheckTopic(topic); err != nil {
		return nil, fmt.Errorf("publish: feed: %w", err)
	}
	if o.Scale == 0 {
		o.Scale = 1
	}
	if o.MaxAge == 0 {
		o.MaxAge = time.Minute
	}
	if math.IsNaN(o.Scale) || math.IsInf(o.Scale, 0) || o.MaxAge < 0 {
		return nil, fmt.Errorf("publish: feed %s: scale %v or maximum age %v makes no sense", topic, o.Scale, o.MaxAge)
	}
	f := &Feed{topic: topic, opts: o, now: time.Now, fresh: make(chan struct{}, 1)}
	return f, c.Subscribe(topic, f.take)
}

// String names the feed as logs do.
func (f *Feed) String() string { return "topic " + f.topic }

// take reads one message. A retained one is not a reading: it may be a year
// old.
func (f *Feed) take(in Inbound) {
	if in.Retained {
		return
	}
	v, err := number(in.Payload, f.opts.Field)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.err = err
	if err == nil {
		f.last = sensor.Reading{At: f.now(), Quantity: f.opts.Quantity, Value: v * f.opts.Scale}
	}
	select {
	case f.fresh <- struct{}{}:
	default:
	}
}

// Read waits for the next message and returns its number with the time at
// which it came. It fails when the message is no number, and when none comes
// for the maximum age.
func (f *Feed) Read(ctx context.Context) (sensor.Reading, error) {
	timer := time.NewTimer(f.opts.MaxAge)
	defer timer.Stop()
	select {
	case <-f.fresh:
	case <-timer.C:
		return sensor.Reading{}, fmt.Errorf("topic %s: %w for %v", f.topic, ErrNoMessage, f.opts.MaxAge)
	case <-ctx.Done():
		return sensor.Reading{}, fmt.Errorf("topic %s: %w", f.topic, ctx.Err())
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.err != nil {
		return sensor.Reading{}, fmt.Errorf("topic %s: %w", f.topic, f.err)
	}
	if age := f.now().Sub(f.last.At); age > f.opts.MaxAge {
		return sensor.Reading{}, fmt.Errorf("topic %s: the message is %v old", f.topic, age.Round(time.Second))
	}
	return f.last, nil
}

// number finds the number in a message: the whole of it, or the field that
// the dotted path names in a JSON object. A number in quotes counts, as many
// small boards send it so.
func number(payload []byte, field string) (float64, error) {
	text := strings.TrimSpace(string(payload))
	if field != "" {
		v, err := dig(payload, field)
		if err != nil {
			return 0, err
		}
		text = v
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("message %s is not a number", clip(text))
	}
	return v, nil
}

// dig returns the text of the number at a dotted path.
func dig(payload []byte, path string) (string, error) {
	raw := json.RawMessage(payload)
	for step := range strings.SplitSeq(path, ".") {
		var object map[string]json.RawMessage
		if err := json.Unmarshal(raw, &object); err != nil {
			return "", fmt.Errorf("message %s is no JSON object with a field %s", clip(string(payload)), path)
		}
		next, ok := object[step]
		if !ok {
			return "", fmt.Errorf("message %s has no field %s", clip(string(payload)), path)
		}
		raw = next
	}
	var quoted string
	if json.Unmarshal(raw, &quoted) == nil && len(raw) > 0 && raw[0] == '"' {
		return quoted, nil
	}
	return string(raw), nil
}

// clip shows the beginning of what a stranger sent, safe to log.
func clip(s string) string {
	const most = 40
	if len(s) > most {
		return strconv.Quote(s[:most]) + "..."
	}
	return strconv.Quote(s)
}
