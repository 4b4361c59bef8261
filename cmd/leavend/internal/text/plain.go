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

// points puts sentences one below the other, as a terminal of 80 columns shows them.
func (r Reader) points(all []Message) string {
	out := make([]string, len(all))
	for i, m := range all {
		out[i] = "- " + wrap(m.In(r), 72, "\n  ")
	}
	return strings.Join(out, "\n")
}

// Wrap breaks each line of a text at 80 columns, and keeps how far it is indented.
func Wrap(s string) string {
	lines := strings.Split(s, "\n")
	for i, line := range lines {
		words := strings.TrimLeft(line, " ")
		indent := line[:len(line)-len(words)]
		lines[i] = indent + wrap(words, 80-len(indent), "\n"+indent)
	}
	return strings.Join(lines, "\n")
}

// wrap breaks a text into lines of at most width characters.
func wrap(s string, width int, brk string) string {
	var b strings.Builder
	at := 0
	for i, word := range strings.Fields(s) {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case at+1+n > width:
			b.WriteString(brk)
			at = 0
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += n
	}
	return b.String()
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
