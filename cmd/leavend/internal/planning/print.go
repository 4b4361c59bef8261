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
	say := func(format, key string, args ...text.Arg) {
		fmt.Fprintf(&b, format, text.Say(key, args...).In(w.Reader))
	}
	wanted := "cli.plan.baked"
	switch {
	case !r.Bakes():
		wanted = "cli.plan.ready"
	case s.Ask.Cooled:
		wanted = "cli.plan.cooled"
	}
	say("%s\n", wanted, text.Name("recipe", text.Capital(s.Ask.Recipe)), text.Time("at", s.Ask.Ready), text.Name("name", s.Name))
	if s.Invented {
		say("%s\n", "cli.plan.invented")
	}
	fmt.Fprintln(&b, s.Grounds.Text)
	for _, d := range s.Doubts {
		fmt.Fprintln(&b, d.Text)
	}
	if s.NoPlan != nil {
		fmt.Fprintf(&b, "\n%s\n", s.NoPlan.Text)
	}
	for i, p := range s.Plans {
		say("\n%s\n", "cli.plan.numbered", text.Number("n", float64(i+1)), text.Number("score", float64(p.Score)))
		w.printSteps(&b, p)
		w.block(&b, "cli.plan.risk", p.Risks)
		w.block(&b, "cli.plan.why", p.Why)
	}
	if !s.Earliest.IsZero() {
		say("\n%s\n", "cli.plan.earliest", text.Time("at", s.Earliest))
	}
	return b.String()
}

func (w Writer) printSteps(b *strings.Builder, p Plan) {
	day := ""
	for _, s := range p.Steps {
		if d := w.Day(s.At); d != day {
			day = d
			fmt.Fprintf(b, "  %s\n", d)
		}
		window := ""
		if !s.Earliest.Equal(s.Latest) {
			window = text.Say("cli.plan.window", text.Time("from", s.Earliest), text.Time("to", s.Latest)).In(w.Reader)
		}
		fmt.Fprintf(b, "    %8s  %-20s  %s\n", w.Clock(s.At), window, s.Text)
	}
}

// block prints sentences under a heading.
func (w Writer) block(b *strings.Builder, heading string, lines []Said) {
	head := text.Say(heading).In(w.Reader)
	for _, l := range lines {
		fmt.Fprintf(b, "  %-6s %s\n", head, l.Text)
		head = ""
	}
}
