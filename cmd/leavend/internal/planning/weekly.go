package planning

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
)

// weekly is a loaf of every week.
type weekly struct {
	Ask     Ask            `json:"ask"` // without an hour
	Days    []time.Weekday `json:"days"`
	Clock   int            `json:"clock"`            // minutes after midnight
	After   time.Time      `json:"after,omitzero"`   // up to here each loaf is planned, skipped or given up
	Skipped time.Time      `json:"skipped,omitzero"` // the last that was skipped
}

// weeklyState is the name under which the store keeps it.
const weeklyState = "plan-weekly"

// weeklyAhead is how long before its hour a loaf of every week is planned: long
// enough for a starter that wants waking up first.
const weeklyAhead = 72 * time.Hour

// next is the hour of the next loaf that nothing was said of yet.
func (w *weekly) next(now time.Time, zone *time.Location) time.Time {
	if w.After.After(now) {
		now = w.After
	}
	now = now.In(zone)
	for d := range 8 {
		at := time.Date(now.Year(), now.Month(), now.Day()+d, w.Clock/60, w.Clock%60, 0, 0, zone)
		if at.After(now) && slices.Contains(w.Days, at.Weekday()) {
			return at
		}
	}
	return time.Time{}
}

// repeat plans the next loaf of every week once it is near. The caller holds mu.
func (k *Keeper) repeat(ctx context.Context, now time.Time) error {
	if k.weekly == nil {
		return nil
	}
	w := *k.weekly
	at := w.next(now, k.m.Conf.Timezone)
	if at.IsZero() || at.Sub(now) > weeklyAhead {
		return nil
	}
	if _, away := k.m.Rules().AwayAt(at); away {
		w.After = at
		return k.keepWeekly(ctx, &w)
	}
	if _, away := k.m.Rules().AwayAt(now); away {
		return nil // it is planned, or refused, once the baker is back
	}
	ask := w.Ask
	ask.Ready = at
	sheet, _, courses, err := k.planner().Answer(ctx, ask, now)
	var mistake *AskError
	if err != nil && !errors.As(err, &mistake) {
		return err
	}
	w.After = at
	if err := k.keepWeekly(ctx, &w); err != nil {
		return err
	}
	if mistake != nil || sheet.NoPlan != nil || len(sheet.Plans) == 0 {
		var why text.Message
		if mistake != nil {
			why = text.Say("plan.trouble.weekly", text.Sub("why", mistake.Say))
		} else if sheet.NoPlan != nil {
			why = sheet.NoPlan.Say
		}
		if k.Notifier != nil {
			k.Notifier.PlanFails(ask.Vessel, sheet.Name, why, now)
		}
		return nil
	}
	sheet.Plans[0].ID = fmt.Sprintf("%x-w", now.UnixNano())
	return k.goBy(ctx, planOffer{sheet.Plans[0].ID, sheet.Ask, sheet.Name, sheet.Plans[0], courses[0]})
}

// keepWeekly stores the loaf of every week before it counts. The caller holds
// mu.
func (k *Keeper) keepWeekly(ctx context.Context, w *weekly) error {
	if err := k.m.Store.States.SetState(ctx, weeklyState, w); err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	k.weekly = w
	return nil
}

// Weekly is the loaf of every week; nil if there is none.
func (k *Keeper) Weekly() *Weekly {
	k.mu.Lock()
	defer k.mu.Unlock()
	w := k.weekly
	if w == nil {
		return nil
	}
	out := &Weekly{Recipe: named(k.m, w.Ask).Recipe, Vessel: w.Ask.Vessel, Cooled: w.Ask.Cooled, ByHand: w.Ask.ByHand, Levain: w.Ask.Levain,
		At: fmt.Sprintf("%02d:%02d", w.Clock/60, w.Clock%60), Next: w.next(k.m.Clock.Now(), k.m.Conf.Timezone), Skipped: w.Skipped}
	for _, d := range w.Days {
		out.Days = append(out.Days, strings.ToLower(d.String()[:3]))
	}
	return out
}

// named is what was asked for, by the name that its recipe has now.
func named(m *monitor.Monitor, a Ask) Ask {
	a.Recipe = m.Effective().Plan.NameNow(a.Recipe)
	return a
}

// SetWeekly asks for a loaf of every week; without days there is none.
func (k *Keeper) SetWeekly(ctx context.Context, in Weekly) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(in.Days) == 0 {
		return k.keepWeekly(ctx, nil)
	}
	w := &weekly{Ask: Ask{Vessel: in.Vessel, Recipe: in.Recipe, Cooled: in.Cooled, ByHand: in.ByHand, Levain: in.Levain}}
	refuse := func(key, name string) error {
		return &failure.Refusal{Code: "ask", Say: text.Say(key, text.Name("name", name), text.Name("names", strings.Join(k.m.Effective().Plan.RecipeNames(), ", ")))}
	}
	recipe, ok := k.m.Effective().Plan.FindRecipe(in.Recipe)
	if !ok {
		return refuse("plan.asked.no_recipe", in.Recipe)
	}
	w.Ask.Recipe = recipe.Name
	jar, ok := k.planner().jar(in.Vessel)
	if !ok {
		return refuse("plan.asked.no_jar", in.Vessel)
	}
	w.Ask.Vessel = jar.Slug
	if _, err := k.planner().levainJar(w.Ask); err != nil {
		return refuse("plan.asked.levain", in.Levain)
	}
	h, m, ok := parseClock(in.At)
	if !ok {
		return refuse("plan.asked.no_time", in.At)
	}
	w.Clock = 60*h + m
	for _, name := range in.Days {
		d, ok := parseDay(name)
		if !ok {
			return refuse("plan.asked.no_day", name)
		}
		if !slices.Contains(w.Days, d) {
			w.Days = append(w.Days, d)
		}
	}
	slices.SortFunc(w.Days, func(a, b time.Weekday) int { return int(a+6)%7 - int(b+6)%7 }) // Monday first
	return k.keepWeekly(ctx, w)
}

// SkipWeekly leaves out the next loaf of every week, or the one under way.
func (k *Keeper) SkipWeekly(ctx context.Context) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.weekly == nil {
		return failure.ErrUnknown
	}
	w := *k.weekly
	now := k.m.Clock.Now()
	if k.chosen != nil && k.chosen.Ask.Ready.Equal(w.After) && w.After.After(now) {
		w.Skipped = w.After
		if err := k.end(ctx); err != nil {
			return err
		}
	} else {
		w.Skipped = w.next(now, k.m.Conf.Timezone)
		w.After = w.Skipped
	}
	return k.keepWeekly(ctx, &w)
}

// parseDay reads a day of the week by three letters or more.
func parseDay(name string) (time.Weekday, bool) {
	name = strings.ToLower(name)
	for d := time.Sunday; d <= time.Saturday; d++ {
		if len(name) >= 3 && strings.HasPrefix(strings.ToLower(d.String()), name) {
			return d, true
		}
	}
	return 0, false
}

// ParseEvery reads an hour of every week, such as "every Saturday 07:30", "every
// Tuesday and Friday 18:00" or "every day 7:00": its days and its time of day.
// It is false for what does not begin with "every".
func ParseEvery(text string) (days []string, clock string, ok bool) {
	words := strings.Fields(strings.ReplaceAll(text, ",", " "))
	if len(words) < 3 || !strings.EqualFold(words[0], "every") {
		return nil, "", false
	}
	i := 1
	for ; i < len(words); i++ {
		switch name := strings.ToLower(words[i]); {
		case name == "and", name == "at":
		case name == "day":
			for d := time.Sunday; d <= time.Saturday; d++ {
				days = append(days, d.String())
			}
		default:
			if _, day := parseDay(name); !day {
				return days, strings.Join(words[i:], " "), len(days) > 0
			}
			days = append(days, name)
		}
	}
	return days, "", len(days) > 0
}
