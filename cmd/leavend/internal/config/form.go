package config

import (
	"fmt"

	"leavend/cmd/leavend/internal/text"
)

// Reader is how whoever the config speaks for has sentences and numbers written.
func (c *Config) Reader() text.Reader {
	us := c.Units == US
	return text.Reader{Language: c.Language, Zone: c.Timezone, Hours12: c.Clock == 12, Fahrenheit: us, Ounces: us, Inches: us}
}

// Degrees returns a temperature in the units of the configuration.
func (c *Config) Degrees(celsius float64) string {
	if c.Units == US {
		return fmt.Sprintf("%.1f °F", celsius*9/5+32)
	}
	return fmt.Sprintf("%.1f °C", celsius)
}
