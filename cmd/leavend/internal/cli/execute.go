package cli

import (
	"context"
	"errors"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
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
		err = text.Fail("cli.usage.try", text.Cause("err", usage(err)), text.Name("command", cmd.CommandPath()))
		printError(stderr, err, readerFor(cmd))
		return failure.Usage
	case !errors.Is(err, failure.ErrSaid):
		printError(stderr, err, readerFor(cmd))
	}
	return failure.Code(err)
}

// usage is an error of the flags' library in a baker's words.
func usage(err error) error {
	var unknown *pflag.NotExistError
	var bare *pflag.ValueRequiredError
	var invalid *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		return text.Fail("cli.usage.flag", text.Name("flag", dashed(unknown.GetSpecifiedName())))
	case errors.As(err, &bare):
		return text.Fail("cli.usage.bare", text.Name("flag", dashed(bare.GetSpecifiedName())))
	case errors.As(err, &invalid):
		return text.Fail("cli.usage.value", text.Name("flag", dashed(invalid.GetFlag().Name)), text.Name("value", invalid.GetValue()))
	case strings.HasPrefix(err.Error(), "unknown command "):
		name, _, _ := strings.Cut(strings.TrimPrefix(err.Error(), "unknown command "), " for ")
		return text.Fail("cli.usage.command", text.Name("name", strings.Trim(name, `"`)))
	}
	return err
}

// dashed is a flag as it is typed.
func dashed(name string) string {
	if len(name) == 1 {
		return "-" + name
	}
	return "--" + name
}

// outside is the error of a number that a flag does not take.
func outside(flag string, v, low, high float64) error {
	return text.Fail("cli.usage.outside", text.Name("flag", flag), text.Number("v", v), text.Number("low", low), text.Number("high", high))
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
			return text.Fail("cli.usage.missing", text.Name("usage", cmd.UseLine()))
		case most >= 0 && len(args) > most:
			return text.Fail("cli.usage.extra", text.Name("argument", args[most]), text.Name("usage", cmd.UseLine()))
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
