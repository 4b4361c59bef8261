package config

import (
	"strings"

	"leavend/cmd/leavend/internal/text"
)

// didYouMean asks whether the choice most like word was meant; it says nothing if none
// is like it.
func didYouMean(word string, choices []string) text.Message {
	best, least := "", 1+max(1, len(word)/3)
	for _, c := range choices {
		d := distance(strings.ToLower(word), strings.ToLower(c))
		if d < least {
			best, least = c, d
		}
	}
	if best == "" {
		best = unfinished(word, choices)
	}
	if best == "" {
		return text.Message{}
	}
	return text.Say("config.hint.like", text.Name("name", best))
}

// unfinished finds the only choice that starts with word: "setpoint" for
// "setpoint_c".
func unfinished(word string, choices []string) string {
	found := ""
	for _, c := range choices {
		if len(word) >= 3 && strings.HasPrefix(c, strings.ToLower(word)) {
			if found != "" {
				return ""
			}
			found = c
		}
	}
	return found
}

// distance counts the letters to insert, remove, replace or swap with their
// neighbour to turn a into b (Damerau's distance with optimal alignment).
func distance(a, b string) int {
	if len(a) > 64 || len(b) > 64 {
		return len(a) + len(b)
	}
	before, last, row := []int(nil), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			differs := 1
			if a[i-1] == b[j-1] {
				differs = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+differs)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, make([]int, len(b)+1)
	}
	return last[len(b)]
}

// words turns any kind of word into strings.
func words[T ~string](choices []T) []string {
	out := make([]string, len(choices))
	for i, c := range choices {
		out[i] = string(c)
	}
	return out
}

// list returns choices as `"a", "b", "c"`.
func list[T ~string](choices []T) text.Arg {
	quoted := make([]string, len(choices))
	for i, c := range choices {
		quoted[i] = `"` + string(c) + `"`
	}
	return text.Name("choices", strings.Join(quoted, ", "))
}
