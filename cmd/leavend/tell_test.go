package main

import (
	"strings"
	"testing"
	"time"

	"leavend/control"
	"leavend/peak/said"
)

// TestMatStandsSaysOnce holds every reason to a line that says on or off no
// more than once, and never what the mat is not.
func TestMatStandsSaysOnce(t *testing.T) {
	states := []control.State{{Unreachable: true, ExpectC: 23.5}, {FreeAt: time.Date(2026, 1, 5, 19, 51, 30, 0, time.UTC)}}
	for _, r := range control.Reasons() {
		states = append(states, control.State{Reason: r, Text: r.Text()})
	}
	for _, s := range states {
		for _, s.On = range []bool{false, true} {
			line := matStands(s, said.Form{})
			head, _, _ := strings.Cut(line, ":")
			if strings.Count(" "+strings.NewReplacer(",", " ", ";", " ").Replace(head)+" ", " off ") > 1 || strings.Contains(line, "off; off") || strings.Contains(line, ": off") {
				t.Errorf("it says off twice: %s", line)
			}
			if s.On && strings.HasPrefix(line, "mat off") {
				t.Errorf("a mat that is on: %s", line)
			}
		}
	}
	for _, tt := range []struct {
		s    control.State
		want string
	}{
		{states[1], "mat off; it may come on again at 19:52"},
		{control.State{On: true, Text: control.ReasonBelow.Text()}, "mat on, warming: it is colder than you asked for"},
		{control.State{Text: control.ReasonWithin.Text()}, "mat off; as warm as you asked for"},
		{control.State{Text: control.ReasonAbove.Text()}, "mat off: it is warmer than you asked for"},
		{control.State{Text: control.ReasonMode.Text()}, "the mat is switched off"},
	} {
		if got := matStands(tt.s, said.Form{}); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}
