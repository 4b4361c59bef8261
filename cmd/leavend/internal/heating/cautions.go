package heating

import (
	"strings"

	"leavend/control"
)

// CautionLines are the cautions, one a line.
func CautionLines() []string {
	var lines []string
	for _, l := range strings.Split(control.Cautions, "\n- ")[1:] {
		lines = append(lines, strings.Join(strings.Fields(l), " "))
	}
	return lines
}
