// Package plug switches a mat through a plug that listens to MQTT.
//
// The plug itself keeps the lease: every on-command carries or renews a timer
// in the plug that switches it off. A broker, a network or a daemon that dies
// therefore costs the mat its heat, not the kitchen its safety.
//
// Commands are never retained, and never handed to a client that is not
// connected, for a client that queues an "on" would deliver it after the
// reason for it has gone. What the plug says back is watched: a command that
// is not echoed in time is an error, and the mat counts as on.
package plug

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"
)

// Publisher is the part of an MQTT client that a plug needs. Command sends
// once, unretained, and must not queue while disconnected.
type Publisher interface {
	Command(topic, payload string) error
	Connected() bool
}

// ErrDisconnected is returned when there is no broker to take a command.
var ErrDisconnected = errors.New("not connected to the broker")

// Opts are the settings of a plug. Zero fields take their defaults.
type Opts struct {
	EchoWithin   time.Duration // longest wait for the plug's word; default 10 s
	StartsWithin time.Duration // how long it may take to come to the broker; default EchoWithin
}

// Dev is a mat on a plug. It implements control.Output and control.Checker.
type Dev struct {
	recipe Recipe
	pub    Publisher
	within time.Duration
	starts time.Duration

	mu      sync.Mutex // guards everything below
	want    bool       // what was commanded last
	said    bool       // the plug has spoken since the command
	is      bool       // what it said
	away    bool       // it said, or its broker said for it, that it is not there
	waiting bool       // a command waits for its echo
	since   time.Time  // since then; zero: from the next Check on
	hanging int        // publishes that have not returned
	began   time.Time  // when Starting was first asked
	spoke   bool       // the plug has spoken at all
	doubt   bool       // it spoke against the last command, unasked
}

// New makes an output for the plug that the recipe describes.
func New(recipe Recipe, pub Publisher, o Opts) (*Dev, error) {
	if err := recipe.check(); err != nil {
		return nil, err
	}
	if o.EchoWithin == 0 {
		o.EchoWithin = 10 * time.Second
	}
	return &Dev{recipe: recipe, pub: pub, within: o.EchoWithin, starts: max(o.StartsWithin, o.EchoWithin)}, nil
}

// Starting reports whether the plug, which has not spoken yet, may still be on
// its way to the broker. It counts from the first time that it is asked.
func (d *Dev) Starting(now time.Time) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.began.IsZero() {
		d.began = now
	}
	return !d.spoke && (d.began.IsZero() || now.Sub(d.began) < d.starts)
}

// Topics are what the shell must subscribe to and hand to Heard.
func (d *Dev) Topics() []string { return d.recipe.topics() }

// On switches the plug on for the lease, or renews it.
func (d *Dev) On(ctx context.Context, lease time.Duration) error {
	if lease < time.Second {
		return fmt.Errorf("plug %s: a lease of %s is too short", d.recipe.Name, lease)
	}
	return d.command(ctx, true, d.recipe.On(lease))
}

// Off switches the plug off.
func (d *Dev) Off(ctx context.Context) error { return d.command(ctx, false, d.recipe.Off()) }

// String names the plug.
func (d *Dev) String() string { return "plug " + d.recipe.Name }

// command publishes and begins to wait for the echo. The wait for an earlier
// command that was not answered goes on: repeating does not make a plug alive.
func (d *Dev) command(ctx context.Context, on bool, msgs []Message) error {
	if !d.pub.Connected() {
		return fmt.Errorf("plug %s: %w", d.recipe.Name, ErrDisconnected)
	}
	d.mu.Lock()
	if d.hanging > 0 && (on || d.hanging >= maxHanging) {
		d.mu.Unlock()
		return fmt.Errorf("plug %s: the last publish still hangs", d.recipe.Name)
	}
	if !d.waiting || on != d.want {
		d.waiting, d.since = true, time.Time{}
	}
	d.want, d.said, d.doubt = on, false, false
	d.hanging++
	d.mu.Unlock()
	return d.publish(ctx, msgs)
}

// maxHanging bounds the publishes that may hang at once in a client that
// blocks for ever.
const maxHanging = 4

// publish sends in a goroutine, so that a client that blocks cannot hold the
// control loop longer than ctx. Only an Off may overtake a publish that hangs.
func (d *Dev) publish(ctx context.Context, msgs []Message) error {
	done := make(chan error, 1)
	go func() {
		var err error
		for _, m := range msgs {
			err = errors.Join(err, d.pub.Command(m.Topic, m.Payload))
		}
		d.mu.Lock()
		d.hanging--
		d.mu.Unlock()
		done <- err
	}()
	select {
	case err := <-done:
		if err != nil {
			return fmt.Errorf("plug %s: publish: %w", d.recipe.Name, err)
		}
		return nil
	case <-ctx.Done():
		return fmt.Errorf("plug %s: publish: %w", d.recipe.Name, ctx.Err())
	}
}

// Heard takes a message from one of Topics, with the time it came. It never
// blocks on a publish. Retained messages are old news and must not be handed
// over.
func (d *Dev) Heard(topic string, payload []byte, at time.Time) {
	if topic == d.recipe.AliveTopic {
		d.mu.Lock()
		d.away = strings.TrimSpace(string(payload)) != d.recipe.AliveText
		d.mu.Unlock()
		return
	}
	on, ok := d.recipe.Parse(topic, payload)
	if !ok {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.said, d.spoke, d.is, d.away = true, true, on, false
	switch {
	case on == d.want && d.doubt:
		// One of the two does not come from the plug. Its answer to the next
		// command counts.
	case on == d.want:
		d.waiting = false
	case d.waiting:
		// Perhaps the echo of the command before; the deadline runs.
	default:
		// The last command was confirmed, and now the plug does the opposite: a
		// finger on its button, a reboot, or its timer. That is told at once.
		d.waiting, d.doubt, d.since = true, true, at.Add(-d.within)
	}
}

// Confirmed reports whether the plug has said since the last command that it
// does as it was told.
func (d *Dev) Confirmed() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.said && d.is == d.want && !d.waiting && !d.away
}

// Check returns an error when the plug has not confirmed the last command in
// time, or says that it does something else. An "on" that the plug's own
// timer ended is such a thing too.
func (d *Dev) Check(now time.Time) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.away {
		return fmt.Errorf("plug %s: is not connected to the broker", d.recipe.Name)
	}
	if !d.waiting {
		return nil
	}
	if d.since.IsZero() {
		d.since = now
	}
	switch waited := now.Sub(d.since); {
	case waited < d.within:
		return nil
	case d.said && (d.is || d.doubt) && !d.want:
		return fmt.Errorf("plug %s: says on, was told off", d.recipe.Name)
	case d.said:
		return fmt.Errorf("plug %s: says off, was told on", d.recipe.Name)
	default:
		return fmt.Errorf("plug %s: no answer within %s", d.recipe.Name, d.within)
	}
}
