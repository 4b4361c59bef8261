package monitor

import (
	"context"
	"errors"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// What the baker changes on the page of [plan] is kept in the store, and holds in the
// place of what the configuration says. The file stays as the baker wrote it.

// changes are what was changed; the zero value is nothing.
type changes struct {
	hours   kept[Hours]
	recipes kept[RecipeBook]
	holiday kept[Holiday]
}

// The names under which the store keeps them.
const (
	hoursSetting   = "plan-hours"
	recipesSetting = "plan-recipes"
	holidaySetting = "holiday"
)

func (c *changes) read(ctx context.Context, s *store.Store) error {
	return errors.Join(c.hours.read(ctx, s.States.Setting, hoursSetting), c.recipes.read(ctx, s.States.Setting, recipesSetting), c.holiday.read(ctx, s.States.Setting, holidaySetting))
}

// Rules are what plans go by: the configuration, and what was changed of it on the page.
type Rules struct{ m *Monitor }

// Rules returns them.
func (m *Monitor) Rules() Rules { return Rules{m} }

// Effective is the configuration with what was changed on the page.
func (m *Monitor) Effective() *config.Config {
	out := *m.Conf
	p := &out.Plan
	if h := m.changes.hours.of(hoursSetting); h.Own {
		// Set has read the hours before, so that they can be read again.
		_ = h.over(p)
	}
	m.changes.recipes.of(recipesSetting).over(p)
	if h := m.changes.holiday.of(holidaySetting); !h.Until.IsZero() {
		p.Away = slices.DeleteFunc(slices.Clone(p.Away), func(a plan.Away) bool {
			return !a.Start.IsZero() && !a.Start.After(h.Until) && a.End.After(h.From)
		})
		p.Away = append(p.Away, plan.Away{Start: h.From, End: h.Until})
	}
	return &out
}

// EffectiveOf is the configuration with what a store says was changed on the page; nil is
// no store.
func EffectiveOf(ctx context.Context, conf *config.Config, s *store.Store) (*config.Config, error) {
	m := &Monitor{Conf: conf}
	if s == nil {
		return conf, nil
	}
	err := m.changes.read(ctx, s)
	return m.Effective(), err
}

// Hours are when the baker is asleep, or away every week.
type Hours struct {
	AsleepFrom string    `json:"asleep_from"` // "22:30"
	AsleepTo   string    `json:"asleep_to"`
	Away       []Absence `json:"away"`
	Own        bool      `json:"own"` // they were set on the page; false: they are those of the configuration
}

// Absence is a time of the week at which the baker is away.
type Absence struct {
	From string       `json:"from"`
	To   string       `json:"to"`
	Days []config.Day `json:"days"` // on which From falls; none is every day
}

// Hours are those that hold.
func (p Rules) Hours() Hours {
	if h := p.m.changes.hours.of(hoursSetting); h.Own {
		return h
	}
	c := p.m.Conf.Plan
	out := Hours{AsleepFrom: c.AsleepFrom.String(), AsleepTo: c.AsleepTo.String(), Away: []Absence{}}
	for _, a := range c.Away {
		if !a.Start.IsZero() {
			continue // it has a date
		}
		one := Absence{From: config.ClockTime(a.From).String(), To: config.ClockTime(a.To).String(), Days: []config.Day{}}
		for _, d := range config.Days() {
			if slices.Contains(a.Days, d.Weekday()) {
				one.Days = append(one.Days, d)
			}
		}
		out.Away = append(out.Away, one)
	}
	return out
}

// SetHours puts hours in the place of those that held.
func (p Rules) SetHours(ctx context.Context, h Hours) error {
	h.Own = true
	if err := h.over(new(config.Plan)); err != nil {
		return err
	}
	return p.m.changes.hours.set(ctx, p.m.Store.States.SetSetting, hoursSetting, h)
}

// ResetHours has those of the configuration hold again.
func (p Rules) ResetHours(ctx context.Context) error {
	return p.m.changes.hours.set(ctx, p.m.Store.States.SetSetting, hoursSetting, Hours{})
}

// over puts the hours into a plan's settings, and keeps the absences that have a date.
func (h Hours) over(p *config.Plan) error {
	var errs []error
	clock := func(text string) int {
		t, err := time.Parse("15:04", text)
		errs = append(errs, err)
		return t.Hour()*60 + t.Minute()
	}
	p.AsleepFrom, p.AsleepTo = config.ClockTime(clock(h.AsleepFrom)), config.ClockTime(clock(h.AsleepTo))
	p.Away = slices.DeleteFunc(slices.Clone(p.Away), func(a plan.Away) bool { return a.Start.IsZero() })
	for _, a := range h.Away {
		one := plan.Away{From: clock(a.From), To: clock(a.To)}
		for _, d := range a.Days {
			one.Days = append(one.Days, d.Weekday())
		}
		if one.From == one.To {
			return &failure.Refusal{Code: "absence", Say: text.Say("error.absence")}
		}
		p.Away = append(p.Away, one)
	}
	if errors.Join(errs...) != nil {
		return &failure.Refusal{Code: "hours", Say: text.Say("error.hours")}
	}
	return nil
}
