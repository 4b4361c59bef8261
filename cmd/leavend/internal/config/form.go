package config

import "leavend/peak/said"

// Form is how numbers are written for the readers of this config.
func (c *Config) Form() said.Form {
	return said.Form{Zone: c.Timezone, Hours12: c.Clock == 12, US: c.Units == US}
}
