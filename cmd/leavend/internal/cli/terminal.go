package cli

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
)

// loadForTerminal is loadConfig for a command that says something to who sits at
// the terminal: its language is the terminal's, where that names one.
func loadForTerminal(file string) (*config.Config, error) {
	c, err := loadConfig(file)
	if err == nil {
		c.Language = text.OfTerminal(os.Getenv, c.Language)
	}
	return c, err
}

// say prints a sentence for who called a command.
func say(cmd *cobra.Command, key string, args ...text.Arg) error {
	_, err := fmt.Fprintln(cmd.OutOrStdout(), text.Say(key, args...).In(readerFor(cmd)))
	return err
}

// readerFor is who sits at the terminal, by the configuration that a command was given.
func readerFor(cmd *cobra.Command) text.Reader {
	if f := cmd.Flags().Lookup("config"); f != nil && f.Value.String() != "" {
		return terminal(f.Value.String())
	}
	return terminal(whoRuns().configFile(defaultConfigFile))
}

// terminal is who sits at it: units and clock are those of the configuration,
// where that can be read.
func terminal(file string) text.Reader {
	c, err := loadForTerminal(file)
	if err != nil {
		c = config.Default()
		c.Language = text.OfTerminal(os.Getenv, text.Fallback)
	}
	return c.Reader()
}
