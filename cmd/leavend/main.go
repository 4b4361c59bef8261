// Command leavend watches a sourdough starter: it reads a distance sensor
// over the jar and a temperature probe, tells the baker when the starter
// stands at its peak, holds a heat mat at a setpoint, and keeps the curves.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"leavend/cmd/leavend/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Execute(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
