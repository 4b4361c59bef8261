package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
)

func newMatAcknowledgeCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "acknowledge",
		Short: "Say that you have looked, and let the mat heat again after a fault",
		Long: `Clear the faults that keep the mat off. Look first: at the mat, its plug, the
vessel and the probes. It asks the running daemon, or else changes what is kept
for its next start. While a probe still reads close to its cutoff it refuses,
and so it does when it cannot read that probe.

It ends with 0 when the faults are cleared, or when there were none, and with 1
when it refused.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		conf, err := loadForTerminal(*file)
		if err != nil {
			return err
		}
		sockets, err := socketsFor(*file)
		if err != nil {
			return err
		}
		said, err := acknowledge(cmd.Context(), conf, sockets)
		if err != nil {
			return fmt.Errorf("mat acknowledge: %w", err)
		}
		fmt.Fprintln(cmd.OutOrStdout(), said.In(conf.Reader()))
		return nil
	}
	return cmd
}

// socketsFor are where the daemon of a configuration may listen. Where that is
// not the usual configuration, and is there, only its own daemon is meant.
func socketsFor(file string) ([]string, error) {
	folders := daemonFolders()
	if conf, err := config.Load(file); err == nil {
		service, own := heating.UsualFolders()[0], conf.DataDir
		if file == defaultConfigFile {
			folders = append([]string{service, own}, folders...)
		} else {
			folders = []string{own}
			if n, err := heating.ReadNote(filepath.Join(service, heating.NoteName)); err == nil && n.DataDir == own || errors.Is(err, fs.ErrPermission) {
				folders = append([]string{service}, folders...)
			}
		}
	} else if file != whoRuns().configFile(defaultConfigFile) {
		_, err := loadConfig(file)
		return nil, err
	}
	var sockets []string
	for _, dir := range folders {
		if s := filepath.Join(dir, daemon.LocalName); !slices.Contains(sockets, s) {
			sockets = append(sockets, s)
		}
	}
	return sockets, nil
}

// acknowledge asks the daemon at one of the sockets, or else changes what is
// kept.
func acknowledge(ctx context.Context, conf *config.Config, sockets []string) (said text.Message, err error) {
	for _, socket := range sockets {
		err := askDaemon(ctx, socket, http.MethodPost, daemon.AcknowledgePath, hungAfter, nil)
		switch {
		case errors.Is(err, errNothing):
			return text.Say("cli.acknowledge.nothing"), nil
		case err == nil:
			return text.Say("cli.acknowledge.done"), nil
		case errors.Is(err, errNoDaemon), err.Error() == heating.ErrNoMat.Error():
			continue
		case errors.Is(err, errHung):
			return said, text.Fail("cli.acknowledge.hung", text.Cause("err", err))
		}
		return said, err
	}
	return acknowledgeKept(ctx, conf)
}

// acknowledgeKept clears the faults in what a daemon that does not run has
// kept. The guard that decides is the daemon's own, with the probes as they
// are now.
func acknowledgeKept(ctx context.Context, conf *config.Config) (said text.Message, err error) {
	if err := foreign(conf.Store.File); err != nil {
		return said, err
	}
	if _, err := os.Stat(conf.Store.File); errors.Is(err, os.ErrNotExist) {
		return text.Say("cli.acknowledge.never"), nil
	}
	s, _, err := store.Open(ctx, conf.Store.File, store.Opts{})
	if err != nil {
		return said, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	log := slog.New(slog.DiscardHandler)
	keeper := heating.NewKeeper(memoryFile(conf), log)
	memory, _, _ := keeper.Recall(ctx, s.States, false)
	if len(memory.Kept.Latched) == 0 {
		return text.Say("cli.acknowledge.nothing"), nil
	}
	bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
	bench.Prepare(conf.Sensors, conf.Buses...)
	defer func() { err = errors.Join(err, bench.Close()) }()
	was := memory.Kept
	kept, err := judge(ctx, conf, was, bench.Open)
	if err != nil {
		return said, err
	}
	if err := keeper.Acknowledged(ctx, kept); err != nil {
		return said, err
	}
	var faults []text.Message
	for _, k := range was.Latched {
		what, _ := heating.FaultText(k)
		faults = append(faults, what)
	}
	return text.Say("cli.acknowledge.later", text.List("all", faults)), nil
}

// memoryFile is where the daemon keeps its copy of what is known of the mat:
// the service's runtime folder where that daemon is the configuration's, or else
// the data folder.
func memoryFile(conf *config.Config) string {
	service := heating.UsualFolders()[0]
	if n, err := heating.ReadNote(filepath.Join(service, heating.NoteName)); err == nil && n.DataDir == conf.DataDir {
		return filepath.Join(service, heating.MemoryName)
	}
	return filepath.Join(conf.DataDir, heating.MemoryName)
}

// judge has a guard acknowledge what is kept, and returns what is to be kept
// then.
func judge(ctx context.Context, conf *config.Config, kept control.Snapshot, open hardware.Opener) (control.Snapshot, error) {
	if !conf.Mat.Heats() {
		return kept, heating.ErrNoMat
	}
	w, err := heating.NewMat(conf, &control.Dry{}, nil)
	if err != nil {
		return kept, err
	}
	w.Restore(kept, 0)
	if slices.Contains(kept.Latched, control.FaultVesselCutoff) || slices.Contains(kept.Latched, control.FaultMatCutoff) {
		if err := w.ReadProbes(ctx, conf, open); err != nil {
			return kept, err
		}
	}
	if err := w.Acknowledge(time.Now()); err != nil {
		return kept, err
	}
	return w.Snapshot(), nil
}

// foreign refuses to open a store of another user's as root: files that root
// makes beside it would lock the daemon out.
func foreign(file string) error {
	info, err := os.Stat(file)
	if err != nil || os.Geteuid() != 0 {
		return nil // opening it says what is wrong
	}
	if owner, ok := info.Sys().(*syscall.Stat_t); ok && owner.Uid != 0 {
		return text.Fail("cli.acknowledge.foreign", text.Name("file", file), text.Name("uid", fmt.Sprint(owner.Uid)))
	}
	return nil
}
