package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/ical"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
)

// planFlags are the switches of the plan command.
type planFlags struct {
	store, vessel, recipe, from, ics string
	levain                           string
	have                             float64
	loaves                           int
	cooled, fridge, json             bool
	file                             *string
}

func newPlanCommand() *cobra.Command {
	var f planFlags
	c := &cobra.Command{
		Use:   "plan WHEN",
		Short: "Say when to feed, mix, shape and bake for bread at a given time",
		Long: `Plan works backwards from the hour at which a loaf is wanted out of the oven,
such as "Saturday 07:30", "tomorrow 7:30" or an RFC 3339 time, and prints the
best two or three ways there: when to feed and how much, how warm to keep it,
when to mix, shape and bake, each with the time at which it may begin, and what
may go wrong. Hours of sleep and absence, recipes and flour are set in the
configuration under [plan]. "every Saturday 07:30" plans the next of each day
named, and writes a calendar that comes back every week; to have it planned again
each week, choose it on the page under Bake. It uses the history of the starter where there is
one, and runs without history, configuration or daemon as well.`,
		Example: `  leavend plan "Saturday 07:30"
  leavend plan "tomorrow 12:00" --recipe "hearth loaf" --fridge
  leavend plan "Sunday 8:00" --ics bread.ics
  leavend plan "every Wednesday and Saturday 07:30" --ics bread.ics`,
		Args: takes(1, -1),
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, strings.Join(args, " ")) },
	}
	f.file = addConfigFlag(c)
	flags := c.Flags()
	flags.StringVar(&f.store, "store", "", "the history's file, whatever the configuration says")
	flags.StringVar(&f.vessel, "vessel", "", "the jar that the starter is in (default: the first)")
	flags.StringVar(&f.recipe, "recipe", "", "which bread (default: plan.usual_recipe)")
	flags.StringVar(&f.from, "from", "", "plan as of this time and not of now; as WHEN")
	flags.Float64Var(&f.have, "have", 0, "grams of starter in the jar (default: by the journal)")
	flags.IntVar(&f.loaves, "loaves", 1, "how many loaves, each of the recipe's weight")
	flags.StringVar(&f.levain, "levain", "", "build a levain in this jar and leave the starter's as it is; - for a jar that is not watched")
	flags.BoolVar(&f.cooled, "cooled", false, "the loaf is wanted cooled, not just out of the oven")
	flags.BoolVar(&f.fridge, "fridge", false, "the jar stands in the fridge")
	flags.BoolVar(&f.json, "json", false, "print the plans as JSON")
	flags.StringVar(&f.ics, "ics", "", "write the best plan into this iCalendar `FILE`")
	return c
}

// run asks and prints.
func (f *planFlags) run(cmd *cobra.Command, when string) error {
	conf, err := f.conf(cmd)
	if err != nil {
		return err
	}
	now := time.Now()
	if f.from != "" {
		if now, err = planning.ParseTime(f.from, now, conf.Timezone); err != nil {
			return failure.Misuse(fmt.Errorf("--from: %w", err))
		}
	}
	times := []string{when}
	days, clock, every := planning.ParseEvery(when)
	for i, d := range days {
		times = append(times[:i], d+" "+clock)
	}
	w := planning.Planner{Conf: conf}.Writer()
	var hours []time.Time
	for _, asked := range times {
		ready, err := planning.ParseTime(asked, now, conf.Timezone)
		if err != nil {
			return failure.Misuse(fmt.Errorf("plan: %w", err))
		}
		if !ready.After(now) {
			return failure.Misuse(text.Fail("cli.plan.past", text.Time("at", ready)))
		}
		hours = append(hours, ready)
	}
	if !(f.have >= 0 && f.have <= 20_000) {
		return failure.Misuse(outside("--have", f.have, 0, 20_000))
	}
	if !(f.loaves >= 1 && f.loaves <= 12) {
		return failure.Misuse(outside("--loaves", float64(f.loaves), 1, 12))
	}
	s, err := f.history(cmd.Context(), cmd.ErrOrStderr(), conf)
	if err != nil {
		return err
	}
	if s != nil {
		defer s.Close()
	}
	if conf, err = monitor.EffectiveOf(cmd.Context(), conf, s); err != nil {
		return err
	}
	var events []ical.Event
	name := ""
	for _, ready := range hours {
		ask := planning.Ask{Vessel: f.vessel, Recipe: f.recipe, Ready: ready, Cooled: f.cooled, Fridge: f.fridge, HaveG: f.have, Loaves: f.loaves, Levain: f.levain}
		sheet, _, _, err := planning.Planner{Conf: conf, Store: s}.Answer(cmd.Context(), ask, now)
		var mistake *planning.AskError
		if errors.As(err, &mistake) {
			return failure.Misuse(&text.Error{Say: mistake.Say})
		}
		if err != nil {
			return err
		}
		if err := f.print(cmd.OutOrStdout(), conf, sheet); err != nil {
			return err
		}
		name = sheet.Ask.Recipe
		switch {
		case len(sheet.Plans) == 0:
			return failure.ErrSaid // what is wrong was said
		case every:
			events = append(events, w.WeeklyEvents(sheet.Ask, sheet.Plans[0], conf.Timezone)...)
		default:
			events = w.Events(sheet.Ask, sheet.Plans[0], 0)
		}
	}
	return f.writeCalendar(text.Capital(name), events, now)
}

// writeCalendar writes the calendar, if one is wanted.
func (f *planFlags) writeCalendar(name string, events []ical.Event, now time.Time) error {
	if f.ics == "" {
		return nil
	}
	file, err := os.Create(f.ics)
	if err != nil {
		return fmt.Errorf("--ics: %w", err)
	}
	return errors.Join(ical.Write(file, name, "leavend "+version.Version, now, events), file.Close())
}

// conf reads the configuration. Without one, where none was named, all is at
// its default: a plan needs no daemon.
func (f *planFlags) conf(cmd *cobra.Command) (*config.Config, error) {
	if _, err := os.Stat(*f.file); errors.Is(err, os.ErrNotExist) && !cmd.Flags().Changed("config") && os.Getenv("LEAVEND_CONFIG") == "" {
		c := config.Default()
		c.Store.File, c.Language = "", text.OfTerminal(os.Getenv, text.Fallback)
		return c, nil
	}
	return loadForTerminal(*f.file)
}

// history opens the store for reading; nil where there is none.
func (f *planFlags) history(ctx context.Context, stderr io.Writer, conf *config.Config) (*store.Store, error) {
	path := conf.Store.File
	if f.store != "" {
		path = f.store
	}
	if _, err := os.Stat(path); path == "" || errors.Is(err, os.ErrNotExist) && f.store == "" {
		fmt.Fprintln(stderr, "leavend:", text.Say("cli.plan.no_history").In(conf.Reader()))
		return nil, nil
	}
	s, _, err := store.Open(ctx, path, store.Opts{ReadOnly: true})
	return s, err
}

// print writes the sheet for a person, or as JSON.
func (f *planFlags) print(out io.Writer, conf *config.Config, sheet planning.Sheet) error {
	if f.json {
		e := json.NewEncoder(out)
		e.SetIndent("", "  ")
		return e.Encode(sheet)
	}
	recipe, _ := conf.Plan.FindRecipe(sheet.Ask.Recipe)
	_, err := io.WriteString(out, planning.Planner{Conf: conf}.Writer().Print(sheet, recipe))
	return err
}
