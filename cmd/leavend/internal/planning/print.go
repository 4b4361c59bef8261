package planning

import (
	"fmt"
	"strings"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// Print is a sheet as the command prints it: one line a step, with the clock
// and the window.
func (w Writer) Print(s Sheet, r plan.Recipe) string {
	var b strings.Builder
	wanted := "out of the oven"
	switch {
	case !r.Bakes():
		wanted = "ready"
	case s.Ask.Cooled:
		wanted = "out of the oven and cooled"
	}
	fmt.Fprintf(&b, "%s, %s by %s %s, with %s.\n", text.Capital(s.Ask.Recipe), wanted, s.Ask.Ready.In(w.Zone).Format("Monday 2 January"), w.Clock(s.Ask.Ready), s.Name)
	if s.Invented {
		b.WriteString("The recipe is invented; its times are common practice.\n")
	}
	fmt.Fprintln(&b, s.Grounds.Text)
	for _, d := range s.Doubts {
		fmt.Fprintln(&b, d.Text)
	}
	if s.NoPlan != nil {
		fmt.Fprintf(&b, "\n%s\n", s.NoPlan.Text)
	}
	for i, p := range s.Plans {
		fmt.Fprintf(&b, "\nPlan %d, %d of 100\n", i+1, p.Score)
		w.steps(&b, p)
		block(&b, "risk", p.Risks)
		block(&b, "why", p.Why)
	}
	if !s.Earliest.IsZero() {
		fmt.Fprintf(&b, "\nA sound plan could have the loaf ready by %s %s.\n", w.Day(s.Earliest), w.Clock(s.Earliest))
	}
	return b.String()
}

func (w Writer) steps(b *strings.Builder, p Plan) {
	day := ""
	for _, s := range p.Steps {
		if d := w.Day(s.At); d != day {
			day = d
			fmt.Fprintf(b, "  %s\n", d)
		}
		window := ""
		if !s.Earliest.Equal(s.Latest) {
			window = fmt.Sprintf("%s to %s", w.Clock(s.Earliest), w.Clock(s.Latest))
		}
		fmt.Fprintf(b, "    %8s  %-20s  %s\n", w.Clock(s.At), window, s.Text)
	}
}

// block prints sentences under a heading.
func block(b *strings.Builder, heading string, lines []Said) {
	for i, l := range lines {
		if i > 0 {
			heading = ""
		}
		fmt.Fprintf(b, "  %-4s  %s\n", heading, l.Text)
	}
}
