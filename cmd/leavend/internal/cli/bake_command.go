package cli

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

func newBakeCommand() *cobra.Command {
	var ask daemon.LoafAsk
	cmd := &cobra.Command{
		Use:   "bake",
		Short: "Note how a loaf turned out",
		Long: `Bake notes a loaf: its stars, crumb, core temperature and weight. On a terminal it
asks for what no flag says; an empty answer leaves it out. The loaf belongs to
the dough that was mixed last. Once your loaves say where the bulk of the best
ended, it is printed; the page offers it to your plans. Photos are added on the
page. It asks the daemon, which has to run.`,
		Example: `  leavend bake
  leavend bake --stars 4 --crumb open --core 97 --weight 820 --note "a little sour"`,
		Args: takes(0, 0),
	}
	file, flags := addConfigFlag(cmd), cmd.Flags()
	flags.StringVar(&ask.Jar, "vessel", "", "the jar that the starter came from (default: the first)")
	flags.IntVar(&ask.Stars, "stars", 0, "1 to 5")
	flags.StringSliceVar(&ask.Crumb, "crumb", nil, "even, open, tight, caves or gummy; several with commas")
	flags.Float64Var(&ask.CoreC, "core", 0, "°C in the middle, out of the oven")
	flags.Float64Var(&ask.WeightG, "weight", 0, "grams, baked")
	flags.StringVar(&ask.Note, "note", "", "what else there is to say")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := noteLoaf(cmd, *file, &ask); err != nil {
			return fmt.Errorf("bake: %w", err)
		}
		return nil
	}
	return cmd
}

// noteLoaf asks for what no flag says, and hands the loaf to the daemon.
func noteLoaf(cmd *cobra.Command, file string, ask *daemon.LoafAsk) error {
	ctx := cmd.Context()
	socket, _, err := findDaemon(ctx, file)
	if err != nil {
		return err
	}
	conf, err := loadForTerminal(file)
	if err != nil {
		return err
	}
	var loaves web.Loaves
	if err := askDaemon(ctx, socket, http.MethodGet, daemon.LoavesPath, hungAfter, &loaves); err != nil {
		return err
	}
	r := conf.Reader()
	if term := prompt.New(cmd.InOrStdin(), cmd.OutOrStdout(), r); term.Interactive() {
		if err := askLoaf(ctx, term, r, loaves, cmd.Flags().Changed, ask); err != nil {
			return err
		}
	}
	var made web.Bake
	if err := tellDaemon(ctx, socket, http.MethodPost, daemon.LoavesPath, hungAfter, ask, &made); err != nil {
		return err
	}
	if err := askDaemon(ctx, socket, http.MethodGet, daemon.LoavesPath, hungAfter, &loaves); err != nil {
		return err
	}
	sayLoaf(cmd.OutOrStdout(), r, made, loaves)
	return nil
}

// askLoaf asks for what was not given.
func askLoaf(ctx context.Context, t *prompt.Terminal, r text.Reader, loaves web.Loaves, given func(string) bool, ask *daemon.LoafAsk) error {
	if d := loaves.Ask; d != nil {
		t.Print(doughSays(r, *d))
	}
	number := func(into *float64) func(string) error {
		return func(s string) (err error) {
			*into, err = strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
			return err
		}
	}
	for _, q := range []struct {
		flag, key string
		take      func(string) error
	}{
		{"stars", "cli.bake.stars", func(s string) (err error) { ask.Stars, err = strconv.Atoi(s); return err }},
		{"crumb", "cli.bake.crumb", func(s string) error {
			ask.Crumb = strings.FieldsFunc(s, func(c rune) bool { return c == ',' || c == ' ' })
			return nil
		}},
		{"core", "cli.bake.core", number(&ask.CoreC)},
		{"weight", "cli.bake.weight", number(&ask.WeightG)},
		{"note", "cli.bake.note", func(s string) error { ask.Note = s; return nil }},
	} {
		if given(q.flag) {
			continue
		}
		answer, err := t.Ask(ctx, q.key)
		if err != nil {
			return err
		}
		if answer == "" {
			continue
		}
		if err := q.take(answer); err != nil {
			return failure.Misuse(text.Fail("cli.usage.value", text.Name("flag", "--"+q.flag), text.Name("value", answer)))
		}
	}
	return nil
}

// sayLoaf prints what was noted and what the loaves tell.
func sayLoaf(out io.Writer, r text.Reader, made web.Bake, loaves web.Loaves) {
	fmt.Fprintln(out, text.Say("cli.bake.noted").In(r))
	if made.Dough != nil {
		fmt.Fprintln(out, doughSays(r, *made.Dough))
	}
	for _, s := range loaves.Stops {
		key, of := "bake.best_room", text.Name("recipe", s.Recipe)
		if s.Cold {
			key = "bake.best_cold"
		}
		switch {
		case s.Rye:
			of = text.Sub("recipe", text.Say("bake.no_recipe_rye"))
		case s.Recipe == "":
			of = text.Sub("recipe", text.Say("bake.no_recipe"))
		}
		fmt.Fprintln(out, text.Say(key, text.Number("n", float64(s.Best)), text.Number("rated", float64(s.Rated)), of,
			text.Share("low", s.Low), text.Share("high", s.High), text.Temp("temp", s.TempC)).In(r))
	}
}

// doughSays says from which dough a loaf is.
func doughSays(r text.Reader, d web.Dough) string {
	what := text.Name("recipe", d.Recipe)
	if d.Recipe == "" {
		what = text.Sub("recipe", text.Say("bake.dough"))
	}
	args := []text.Arg{what, text.Time("mixed", d.Mixed), text.Share("rise", d.Rise), text.Temp("temp", d.TempC)}
	switch {
	case d.Rise > 0 && d.TempC > 0:
		return text.Say("bake.dough_ended_at", args...).In(r)
	case d.Rise > 0:
		return text.Say("bake.dough_ended", args...).In(r)
	}
	return text.Say("bake.dough_mixed", args...).In(r)
}
