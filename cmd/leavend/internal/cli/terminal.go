package cli

import (
	"os"

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
