package demo

import (
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/control"
)

// TestMatStandsSaysOnce holds every reason to a line that says on or off no
// more than once, and never what the mat is not.
func TestMatStandsSaysOnce(t *testing.T) {
	states := []control.State{{Unreachable: true, ExpectC: 23.5}, {FreeAt: time.Date(2026, 1, 5, 19, 51, 30, 0, time.UTC)}}
	for _, r := range control.Reasons() {
		states = append(states, control.State{Reason: r})
	}
	for _, s := range states {
		for _, s.On = range []bool{false, true} {
			line := strings.ToLower(matStands(s, text.Reader{}))
			if strings.HasPrefix(line, "mat off: off") || strings.HasPrefix(line, "mat on: off") {
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
		{states[1], "mat: Off; it may come on again at 19:52"},
		{control.State{On: true, Reason: control.ReasonBelow}, "mat: Heating, because it is colder than the setpoint"},
		{control.State{Reason: control.ReasonWithin}, "mat off: At the setpoint"},
		{control.State{Reason: control.ReasonAbove}, "mat: Off, because it is warmer than the setpoint"},
		{control.State{Reason: control.ReasonMode}, "mat: Switched off"},
	} {
		if got := matStands(tt.s, text.Reader{}); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}
