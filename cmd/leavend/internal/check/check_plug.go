package check

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/control"
	"leavend/control/plug"
)

// plugArrives is how long a plug may take to come to the broker: with the one
// inside leavend it has to find it again first.
const plugArrives = 2 * time.Minute

// testPlug tests a mat on a plug, by the broker and the client of the daemon.
// A plug that does not say what it does is never switched on.
func testPlug(ctx context.Context, c *config.Config, note string, on time.Duration) (r Result) {
	r = Result{Topic: "mat test", Level: Fail, Do: "put that right, then run the test again"}
	log := slog.New(slog.DiscardHandler)
	client, broker, err := mqtt.Open(ctx, c, mqtt.OpenOpts{Log: log})
	if err != nil {
		r.Says = fmt.Sprintf("not done: %v.", err)
		return r
	}
	if client == nil {
		r.Says = "not done: a plug is switched by MQTT, and mqtt.on is false."
		return r
	}
	made, err := heating.OpenOutput(c, note, func() heating.Network { return client })
	out, _ := made.(*plug.Dev)
	if err == nil {
		err = client.SubscribePlug(out, time.Now)
	}
	if err != nil {
		r.Says = fmt.Sprintf("not done: %v.", err)
		return r
	}
	// The client ends after the test, even one that was broken off: the mat has
	// to be switched off by it.
	running, stop := context.WithCancel(context.WithoutCancel(ctx))
	var wg sync.WaitGroup
	defer func() { stop(); wg.Wait() }()
	if broker != nil {
		if err := broker.Open(); err != nil {
			r.Says = fmt.Sprintf("not done: %v.", err)
			return r
		}
		wg.Go(func() { _ = broker.Run(running) })
	}
	wg.Go(func() { _ = client.Run(running) })
	if err := plugIsThere(ctx, out, plugArrives); err != nil {
		r.Says = fmt.Sprintf("not done: %v.", err)
		r.Do = "see that the plug has power and is told this broker, with its user and password; what it says: mosquitto_sub -v -t '#'"
		return r
	}
	return tryMat(ctx, out, on)
}

// plugIsThere tells a plug to be off until it says that it is.
func plugIsThere(ctx context.Context, out *plug.Dev, within time.Duration) error {
	last := errors.New("it was not reached")
	for until := time.Now().Add(within); time.Now().Before(until); {
		if last = out.Off(ctx); last == nil {
			if last = heating.Confirmed(ctx, out, 5*time.Second); last == nil {
				return nil
			}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(200 * time.Millisecond):
		}
	}
	return last
}

var (
	_ control.Output    = (*plug.Dev)(nil)
	_ heating.Confirmer = (*plug.Dev)(nil)
)
