package check

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/control/plug"
)

// plugArrives is how long a plug may take to come to the broker: with the one
// inside leavend it has to find it again first.
const plugArrives = 2 * time.Minute

// testPlug tests a mat on a plug, by the broker and the client of the daemon.
// A plug that does not say what it does is never switched on.
func testPlug(ctx context.Context, c *config.Config, note string, on time.Duration) Result {
	log := slog.New(slog.DiscardHandler)
	client, broker, err := mqtt.Open(ctx, c, mqtt.OpenOpts{Log: log})
	if err != nil {
		return notDone(written(err.Error()))
	}
	if client == nil {
		return notDone(text.Say("check.test.mqtt_off"))
	}
	made, err := heating.OpenOutput(c, note, client)
	out, _ := made.(*plug.Dev)
	if err == nil {
		err = client.SubscribePlug(out, time.Now)
	}
	if err != nil {
		return notDone(written(err.Error()))
	}
	// The client ends after the test, even one that was broken off: the mat has
	// to be switched off by it.
	running, stop := context.WithCancel(context.WithoutCancel(ctx))
	var wg sync.WaitGroup
	defer func() { stop(); wg.Wait() }()
	if broker != nil {
		if err := broker.Open(); err != nil {
			return notDone(written(err.Error()))
		}
		wg.Go(func() { _ = broker.Run(running) })
	}
	wg.Go(func() { _ = client.Run(running) })
	if err := plugIsThere(ctx, out, plugArrives); err != nil {
		r := notDone(written(err.Error()))
		r.Do = text.Say("check.test.plug_do")
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
