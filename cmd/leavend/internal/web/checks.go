package web

import (
	"math"
	"net/http"
	"strings"
	"time"
	"unicode/utf8"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/web/problem"
)

// checks remembers the first thing wrong with a body.
type checks struct{ err error }

func (c *checks) that(ok bool, otherwise string) {
	if !ok && c.err == nil {
		c.err = problem.New(http.StatusUnprocessableEntity, "range", "%s", otherwise)
	}
}

// given notes a name that is missing.
func (c *checks) given(is bool, name string) {
	if !is && c.err == nil {
		c.err = problem.New(http.StatusUnprocessableEntity, "missing", "%s is missing.", name)
	}
}

func (c *checks) grams(name string, g float64) {
	c.that(g >= 0 && g <= maxGrams && !math.IsNaN(g), name+": 0 to 20000 g.")
}

func (c *checks) text(name, s string, most int) {
	c.that(utf8.ValidString(s) && utf8.RuneCountInString(s) <= most, name+": the text is too long or is no text.")
}

// moment lets the past and a few minutes of the future through: a phone's
// clock may be ahead.
func (c *checks) moment(name string, at, now time.Time) {
	c.that(at.IsZero() || at.Year() >= 1970 && at.Before(now.Add(event.Ahead)), name+": that moment has not come yet.")
}

// day reads a day such as "2026-12-20"; "" is the zero time.
func (c *checks) day(name, s string) time.Time {
	if s == "" {
		return time.Time{}
	}
	at, err := time.Parse(time.DateOnly, s)
	c.that(err == nil, name+`: write a day as "2026-12-20".`)
	return at
}

// isSlug reports whether a name may stand in an address: lower-case letters, digits, -
// and _, up to 40 of them, and none of the signs first.
func isSlug(name string) bool {
	if name == "" || len(name) > 40 || name[0] == '-' || name[0] == '_' {
		return false
	}
	return strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789-_") == ""
}
