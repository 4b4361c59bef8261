package text

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Capital returns a sentence with a capital letter.
func Capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[n:]
}

// Spell returns a duration without an empty tail.
func Spell(d time.Duration) string {
	s := d.String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}
