package text

import (
	"cmp"
	"strings"
)

// OfTerminal is the language that a terminal's environment asks for. Of LC_ALL,
// LC_MESSAGES and LANG the first that is set counts (POSIX.1-2017, Base Definitions,
// 8.2). The C and the POSIX locale name no language, and leave it to otherwise.
func OfTerminal(getenv func(string) string, otherwise string) string {
	locale, _, _ := strings.Cut(cmp.Or(getenv("LC_ALL"), getenv("LC_MESSAGES"), getenv("LANG")), ".")
	locale, _, _ = strings.Cut(locale, "@")
	if locale == "" || locale == "C" || locale == "POSIX" {
		return otherwise
	}
	return Match(strings.ReplaceAll(locale, "_", "-"))
}
