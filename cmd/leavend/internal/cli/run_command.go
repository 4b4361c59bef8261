package cli

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/failure"
)

func newRunCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run",
		Short: "Watch the vessels and hold the mat, until told to stop",
		Long: `Run reads the config, opens the sensors and the mat's output, and watches
until it is told to stop. The mat starts off and goes off when the daemon ends,
whatever ends it. 'leavend config' prints a config to start from, and
'leavend check' says what this one will do.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return stay(*file, func(trouble string) (bool, []byte, error) {
			return runOnce(cmd.Context(), *file, trouble, cmd.ErrOrStderr())
		})
	}
	return cmd
}

// stay runs the daemon, and starts it again whenever its config was changed
// from the page. A change that keeps the daemon from starting is taken back,
// or the baker could not reach the page to mend it. See runOnce for what once
// returns.
func stay(file string, once func(trouble string) (started bool, changed []byte, err error)) error {
	var former []byte // the config before a change that is being tried
	trouble := ""     // what came of the last change, if it was taken back
	for {
		started, changed, err := once(trouble)
		trouble = ""
		switch {
		case changed != nil:
			former = changed
		case !started && former != nil && err != nil:
			trouble = fmt.Sprintf("the new settings could not be used, and the former ones are back: %v", err)
			if err := config.Save(file, former); err != nil {
				return err
			}
			former = nil
		default:
			return err
		}
	}
}

// runOnce runs the daemon until ctx ends, or until its config was changed from
// the page; changed is then the config as it was before. started is whether
// the daemon opened at all.
func runOnce(ctx context.Context, file, trouble string, stderr io.Writer) (started bool, changed []byte, err error) {
	conf, err := loadConfig(file)
	if err != nil {
		return false, nil, err
	}
	if len(conf.Vessels) == 0 && !conf.Web.On {
		return false, nil, failure.Misuse(fmt.Errorf("%s: there is nothing to watch; add a [[sensor]] and a [[vessel]], see 'leavend config', or let the page do it with web.on = true", file))
	}
	log := newLog(stderr, conf.LogLevel)
	for _, w := range conf.Warnings {
		log.Warn("config", "says", w.String())
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	changedFile := make(chan []byte, 1)
	d, err := daemon.New(ctx, conf, log, daemon.Parts{Local: true, Reload: func(before []byte) { changedFile <- before; stop() }})
	if err != nil {
		return false, nil, err
	}
	d.Greet(trouble)
	err = d.Run(ctx)
	select {
	case changed = <-changedFile:
		return true, changed, nil
	default:
		return true, nil, err
	}
}
