package cli

import (
	"context"
	"errors"
	"io"
	"os"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

func newRunCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run",
		Short: "Watch the vessels and hold the mat, until told to stop",
		Long: `Run reads the config, opens the sensors and the mat's output, and watches
until it is told to stop. The mat starts off and goes off when the daemon ends,
whatever ends it. 'leavend config' prints a config to start from, and
'leavend check' says what this one will do.

Where neither a configuration is named nor the board has one, an ordinary user
runs his own, ~/.config/leavend/leavend.toml, which is made with his history in
~/.local/state/leavend.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := whoRuns().makeConfig(*file, cmd.ErrOrStderr()); err != nil {
			return err
		}
		run := &runner{file: *file, stderr: cmd.ErrOrStderr()}
		return stay(*file, func(trouble text.Message) (bool, []byte, error) { return run.once(cmd.Context(), trouble) })
	}
	return cmd
}

// stay runs the daemon, and starts it again whenever its config was changed
// from the page. A change that keeps the daemon from starting is taken back,
// or the baker could not reach the page to mend it. See runOnce for what once
// returns.
func stay(file string, once func(trouble text.Message) (started bool, changed []byte, err error)) error {
	var former []byte        // the config before a change that is being tried
	var trouble text.Message // what came of the last change, if it was taken back
	for {
		started, changed, err := once(trouble)
		trouble = text.Message{}
		switch {
		case changed != nil:
			former = changed
		case !started && former != nil && err != nil:
			trouble = text.Say("alarm.settings.undone", text.Cause("err", err))
			if err := config.Save(file, former); err != nil {
				return err
			}
			former = nil
		default:
			return err
		}
	}
}

// runner runs the daemon once or, when the page wants it, once again.
type runner struct {
	file   string
	stderr io.Writer
	again  bool   // the page has changed the config, or wants a backup
	backup string // to go back to before the next run; "" for none
}

// once runs the daemon until ctx ends, or until the page wants it to start again;
// changed is then the config as it was before. started is whether the daemon
// opened at all.
func (r *runner) once(ctx context.Context, trouble text.Message) (started bool, changed []byte, err error) {
	file, again := r.file, r.again
	r.again = false
	conf, err := loadConfig(file)
	if err != nil {
		return false, nil, err
	}
	if len(conf.Vessels) == 0 && !conf.Web.On {
		return false, nil, failure.Misuse(text.Fail("cli.config.nothing", text.Name("file", file)))
	}
	log := newLog(r.stderr, conf.LogLevel)
	for _, w := range conf.Warnings {
		log.Warn("config", "says", w.String())
	}
	if r.backup != "" {
		said, err := daemon.RestoreBackup(ctx, conf.Store.File, r.backup)
		if r.backup = ""; err != nil {
			log.Error("restore", "err", err)
			trouble = text.Say("alarm.settings.not_restored", text.Cause("err", err))
		} else {
			log.Info(said)
		}
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	asked := make(chan restart, 1)
	ask := func(q restart) {
		select {
		case asked <- q:
		default: // one is enough
		}
		stop(daemon.ErrRestart)
	}
	d, err := daemon.New(ctx, conf, log, daemon.Parts{
		Local: true, Reload: func(before []byte) { ask(restart{before: before}) }, Restore: func(backup string) { ask(restart{backup: backup}) },
	})
	if err != nil {
		return false, nil, err
	}
	if again {
		if err := d.Missing("page"); err != nil {
			return false, nil, errors.Join(err, d.Close())
		}
	}
	d.Greet(trouble)
	err = d.Run(ctx)
	select {
	case q := <-asked:
		return r.next(q)
	default:
		return true, nil, err
	}
}

// restart is why the page wants the daemon to start again: a config that it has
// changed, of which it hands over the former text, or a backup to go back to.
type restart struct {
	before []byte
	backup string
}

// next prepares the next run.
func (r *runner) next(q restart) (started bool, changed []byte, err error) {
	r.backup = q.backup
	if q.backup == "" {
		r.again = true
		return true, q.before, nil
	}
	present, err := os.ReadFile(r.file) // it is what the next run goes back to, if it cannot start
	return true, present, err
}
