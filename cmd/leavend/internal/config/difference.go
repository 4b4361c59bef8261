package config

import (
	"fmt"
	"strings"
)

// Difference returns the lines that change from before to after, those that
// go with "-" in front and those that come with "+", each group under the
// number of the line it starts at.
func Difference(before, after []byte) string {
	a, b := split(before), split(after)
	// What stays the same at both ends needs no comparing.
	head := 0
	for head < len(a) && head < len(b) && a[head] == b[head] {
		head++
	}
	a, b = a[head:], b[head:]
	for len(a) > 0 && len(b) > 0 && a[len(a)-1] == b[len(b)-1] {
		a, b = a[:len(a)-1], b[:len(b)-1]
	}
	same := common(a, b)
	var out strings.Builder
	open := false
	for i, j := 0, 0; i < len(a) || j < len(b); {
		if i < len(a) && j < len(b) && a[i] == b[j] {
			i, j, open = i+1, j+1, false
			continue
		}
		if !open {
			fmt.Fprintf(&out, "line %d\n", head+j+1)
			open = true
		}
		if i < len(a) && (j == len(b) || same[i+1][j] >= same[i][j+1]) {
			out.WriteString("-" + strings.TrimRight(a[i], "\r\n") + "\n")
			i++
		} else {
			out.WriteString("+" + strings.TrimRight(b[j], "\r\n") + "\n")
			j++
		}
	}
	return out.String()
}

// common counts the lines that the ends of two files share, from each pair of
// places on.
func common(a, b []string) [][]int {
	same := make([][]int, len(a)+1)
	for i := range same {
		same[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				same[i][j] = same[i+1][j+1] + 1
			} else {
				same[i][j] = max(same[i+1][j], same[i][j+1])
			}
		}
	}
	return same
}
