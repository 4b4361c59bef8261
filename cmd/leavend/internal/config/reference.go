package config

import _ "embed"

//go:embed leavend.toml
var reference string

// Reference returns the whole configuration as a commented file: every key,
// at its default, with what a higher or a lower value does.
func Reference() string { return reference }
