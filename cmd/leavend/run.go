package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/control"
)

func newRunCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run",
		Short: "Watch the vessels and hold the mat, until told to stop",
		Long: `Run reads the config, opens the sensors and the mat's output, and watches
until it is told to stop. The mat starts off and goes off when the daemon ends,
whatever ends it. 'leavend config' prints a config to start from, and
'leavend check' says what this one will do.`,
		Args: cobra.NoArgs,
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		conf, err := loadConfig(*file)
		if err != nil {
			return err
		}
		if len(conf.Vessels) == 0 {
			return misused(fmt.Errorf("%s: there is nothing to watch; add a [[sensor]] and a [[vessel]], see 'leavend config'", *file))
		}
		return failed(runDaemon(cmd.Context(), conf, cmd.ErrOrStderr()))
	}
	return cmd
}

// runDaemon runs the house until ctx ends.
func runDaemon(ctx context.Context, conf *config.Config, stderr io.Writer) error {
	log := slog.New(slog.NewTextHandler(stderr, &slog.HandlerOptions{Level: conf.LogLevel}))
	for _, w := range conf.Warnings {
		log.Warn("config", "says", w.String())
	}
	d, err := newDaemon(ctx, conf, log, parts{})
	if err != nil {
		return err
	}
	d.warnOfHeat()
	log.Info("leavend watches", "version", version, "vessels", len(d.vessels), "sensors", len(conf.Sensors))
	return d.Run(ctx)
}

// warnOfHeat shows the cautions before this mat is first switched on.
func (d *daemon) warnOfHeat() {
	if d.warm == nil || d.memory.Accepted {
		return
	}
	d.log.Warn("a heat mat is configured; read this first\n" + control.Cautions)
	d.memoryMu.Lock()
	defer d.memoryMu.Unlock()
	next := d.memory
	next.Accepted = true
	if err := d.store.SetState(context.Background(), matID, next); err == nil {
		d.memory = next
	}
}
