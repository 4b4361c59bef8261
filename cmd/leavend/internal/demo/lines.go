package demo

import (
	"fmt"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
)

// standing says in a few words how one vessel stands.
func standing(v monitor.Status, r text.Reader) string {
	rise, temp, ahead := "", "", ""
	if v.Ratio != nil && v.Feed != nil {
		rise = fmt.Sprintf("%.2f×", v.Ratio.Value)
	}
	if v.Temp != nil && v.Temp.Fresh {
		temp = text.Say("number.temp", text.Temp("temp", v.Temp.Value)).In(r)
	}
	if a := v.Forecast; a != nil {
		what := "peak"
		if v.Kind == config.Bowl {
			what = "risen"
		}
		ahead = fmt.Sprintf("%s about %s (%s to %s)", what, r.Clock(a.At), r.Clock(a.Low), r.Clock(a.High))
	}
	return strings.TrimRight(fmt.Sprintf("%-8s %-13s %5s  %7s  %s", v.Name, stageWord(v), rise, temp, ahead), " ")
}

// stageWords are the stages as the demo's lines name them.
var stageWords = map[monitor.Stage]string{
	monitor.Waiting: "not fed yet", monitor.Lag: "settling in", monitor.Rising: "rising", monitor.AtPeak: "at its peak", monitor.Falling: "falling",
	monitor.Collapsed: "fallen", monitor.AtTarget: "risen enough", monitor.Over: "going over", monitor.Past: "past its best",
	monitor.InFridge: "in the fridge", monitor.Unsure: "unsure",
}

func stageWord(v monitor.Status) string {
	if v.Kind == config.Bowl && v.Stage == monitor.Waiting {
		return "no dough yet"
	}
	return stageWords[v.Stage]
}

// matStands says on or off, and why; most reasons name it themselves.
func matStands(s control.State, r text.Reader) string {
	head := "mat: "
	if s.Unreachable || s.FreeAt.IsZero() && (s.Reason == control.ReasonWithin || s.Reason == control.ReasonRest) {
		head = map[bool]string{true: "mat on: ", false: "mat off: "}[s.On]
	}
	return head + heating.Why(s).In(r)
}
