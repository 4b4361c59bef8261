package cli

import (
	"errors"
	"fmt"
	"os"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"

	"github.com/spf13/cobra"
)

// defaultConfigFile is where the package puts the configuration.
const defaultConfigFile = config.DefaultFile

// whoRuns is who runs this program.
func whoRuns() person { return person{os.Geteuid(), os.Getenv} }

// addConfigFlag gives a command the --config flag and returns where its value
// will be.
func addConfigFlag(cmd *cobra.Command) *string {
	file := cmd.Flags().StringP("config", "c", whoRuns().configFile(defaultConfigFile), "the configuration `FILE` (or set LEAVEND_CONFIG)")
	cmd.Flags().Lookup("config").DefValue = defaultConfigFile // the man page is the same whoever builds it
	return file
}

// loadConfig reads a configuration. What is wrong with it is wrong usage:
// exit 2, and nothing was switched on.
func loadConfig(file string) (*config.Config, error) {
	c, err := config.Load(file)
	var all *config.Error
	switch {
	case errors.As(err, &all):
		return nil, failure.Misuse(text.Fail("cli.config.mistakes", text.Cause("err", err)))
	case errors.Is(err, os.ErrNotExist):
		return nil, failure.Misuse(text.Fail("cli.config.missing", text.Name("file", file)))
	case errors.Is(err, os.ErrPermission):
		return nil, failure.Misuse(text.Fail("cli.config.rights", text.Name("file", file)))
	case err != nil:
		return nil, failure.Misuse(err)
	}
	return c, nil
}

func newConfigCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "config",
		Short: "Print every key of the configuration with its default and what it does",
		Args:  takes(0, 0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(cmd.OutOrStdout(), config.Reference())
			return err
		},
	}
}
