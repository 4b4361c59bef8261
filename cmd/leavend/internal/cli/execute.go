package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"leavend/cmd/leavend/internal/failure"

	"github.com/spf13/cobra"
)

// Execute runs one command line and returns its exit code. It is the whole
// program apart from the process itself, so that tests can call it.
func Execute(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root, began := rootFor(args), false
	root.PersistentPreRun = func(*cobra.Command, []string) { began = true }
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	cmd, err := root.ExecuteContextC(ctx)
	switch {
	case err == nil:
		return failure.Done
	case !began: // an unknown command or flag, or a wrong argument
		fmt.Fprintf(stderr, "leavend: %s\nTry '%s --help'.\n", plainly(err), cmd.CommandPath())
		return failure.Usage
	case !errors.Is(err, failure.ErrSaid):
		printError(stderr, err)
	}
	return failure.Code(err)
}

// plainly is an error about usage without the inner words of Go's library.
func plainly(err error) string {
	text, _, inner := strings.Cut(err.Error(), ": strconv.")
	if inner {
		text += ": it cannot be read"
	}
	return text
}

// group is a command that only holds others.
func group(use, short string, commands ...*cobra.Command) *cobra.Command {
	parent := &cobra.Command{Use: use, Short: short, Args: cobra.NoArgs, RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() }}
	parent.AddCommand(commands...)
	return parent
}

// takes wants so many arguments, and says how the command is used; most is -1
// where there is no end to them.
func takes(least, most int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return fmt.Errorf("an argument is missing; usage: %s", cmd.UseLine())
		case most >= 0 && len(args) > most:
			return fmt.Errorf("%q is one argument too many; usage: %s", args[most], cmd.UseLine())
		}
		return nil
	}
}

// rootFor builds no more of the command tree than args need: `mat off` may
// have to save a kitchen on a slow board, and waits for no other command.
func rootFor(args []string) *cobra.Command {
	if len(args) < 2 || args[0] != "mat" || args[1] != "off" {
		return newRoot()
	}
	root, mat := bareRoot(), &cobra.Command{Use: "mat"}
	mat.AddCommand(newMatOffCommand())
	root.AddCommand(mat)
	return root
}

// bareRoot is the program without its commands.
func bareRoot() *cobra.Command {
	return &cobra.Command{
		Use:           "leavend",
		Short:         "Watch a sourdough starter, tell when it peaks, keep it warm",
		SilenceUsage:  true,
		SilenceErrors: true,
	}
}

// newRoot builds the command tree. Each subcommand lives in a file of its own
// and is added here.
func newRoot() *cobra.Command {
	root := bareRoot()
	root.AddCommand(
		newRunCommand(),
		newDemoCommand(),
		newRecordCommand(),
		newCheckCommand(),
		newConfigCommand(),
		newReplayCommand(),
		newVersionCommand(),
		newHealthCommand(),
		newMatCommand(),
		newBackupCommand(),
		newRestoreCommand(),
		newExportCommand(),
		newImportCommand(),
		newNotifyCommand(),
		newPasswordCommand(),
		newWebCommand(),
		newCalibrateCommand(),
		newPlanCommand(),
		newBakeCommand(),
		newSupportCommand(),
		newManualCommand(),
	)
	return root
}
