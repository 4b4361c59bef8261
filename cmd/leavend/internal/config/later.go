package config

import (
	"regexp"
	"sync"
)

// later compiles a pattern when it is first asked for, and not as the program
// starts: `leavend mat off` needs none and shall not wait for any.
func later(pattern string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(pattern) })
}
