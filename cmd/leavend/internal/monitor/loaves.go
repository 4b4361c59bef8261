package monitor

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak/dough"
	"leavend/peak/plan"
)

// A loaf belongs to the dough that it was baked from, and so to a curve, and to a recipe
// and a plan where it has these. bulk_end.go says where its bulk ended.

// bakedWithin is how long after the mixing a loaf may be baked: a bulk and two nights in
// the fridge.
const bakedWithin = 3 * 24 * time.Hour

// Loaves are the loaves of a monitor's doughs, and what they tell.
type Loaves struct{ m *Monitor }

// Loaves returns them.
func (m *Monitor) Loaves() Loaves { return Loaves{m} }

// DoughOf finds the dough of a loaf that was baked at a moment: the last that was mixed
// before; nil where there is none.
func (l Loaves) DoughOf(ctx context.Context, baked time.Time) (*store.Dough, error) {
	bowl, ok := bowlOf(l.m.Conf)
	if !ok {
		return nil, nil
	}
	mixes, err := l.m.Store.Journal.Feeds(ctx, store.Query{Vessel: bowl.Slug, From: baked.Add(-bakedWithin), To: baked, Limit: 1})
	if err != nil || len(mixes) == 0 {
		return nil, err
	}
	settings, err := l.m.Store.States.Settings(ctx)
	if err != nil {
		return nil, err
	}
	d := &store.Dough{Bowl: bowl.Slug, Mixed: mixes[0].At}
	if addPlan(d, settings); d.Recipe == "" {
		kind := l.KindOf(mixes[0])
		d.Recipe, d.Rye = kind.Recipe, kind.Rye
	}
	end, ok := bulkEnd(settings, bowl.Slug, d.Mixed, baked)
	if !ok {
		if end, ok, err = l.emptied(ctx, bowl.Slug, d.Mixed, baked); err != nil {
			return d, err
		}
	}
	if ok {
		d.Rise, d.Cold = end.Rise, d.Cold || end.How == DoughChilled
		d.TempC, err = l.meanTemp(ctx, bowl.Slug, d.Mixed, end.At)
		if d.TempC == 0 {
			d.TempC = end.TempC
		}
	}
	return d, err
}

// addPlan says by which plan a dough was mixed, and whether that puts it into the fridge.
func addPlan(d *store.Dough, settings []store.Setting) {
	for _, one := range settings { // the newest first
		var chosen struct {
			Ask struct {
				Ready  time.Time `json:"ready"`
				Recipe string    `json:"recipe"`
			} `json:"ask"`
			Plan struct {
				Steps []struct {
					Fridge bool `json:"fridge"`
				} `json:"steps"`
			} `json:"plan"`
		}
		if one.Name != PlanSetting || json.Unmarshal(one.Value, &chosen) != nil || !d.Mixed.After(one.Made) || !d.Mixed.Before(chosen.Ask.Ready) {
			continue
		}
		d.Recipe, d.Plan = chosen.Ask.Recipe, chosen.Ask.Ready
		for _, s := range chosen.Plan.Steps {
			d.Cold = d.Cold || s.Fridge
		}
		return
	}
}

// Unrated is the last dough that should be baked by now and of which no loaf is written
// down; nil where there is none.
func (l Loaves) Unrated(ctx context.Context) (*store.Dough, error) {
	now := l.m.Clock.Now()
	d, err := l.DoughOf(ctx, now)
	if err != nil || d == nil || d.Plan.After(now) || now.Sub(d.Mixed) < soonestBaked || l.stillRises(d, now) {
		return nil, err
	}
	bakes, err := l.m.Store.Journal.Bakes(ctx, store.Query{From: d.Mixed, Limit: 20})
	if slices.ContainsFunc(bakes, func(b store.Bake) bool { return b.Dough != nil && b.Dough.Mixed.Equal(d.Mixed) }) {
		return nil, err
	}
	return d, err
}

// stillRises reports whether the dough stands in its bowl below its target.
func (l Loaves) stillRises(d *store.Dough, now time.Time) bool {
	if d.Rise > 0 { // its bulk has ended
		return false
	}
	v := l.m.Vessel(d.Bowl)
	return v != nil && slices.Contains([]Stage{Lag, Rising}, v.Status(now).Stage)
}

// soonestBaked is how soon after the mixing a loaf may be out of the oven.
const soonestBaked = 4 * time.Hour

// LoafKind is what loaves must have in common to be compared.
type LoafKind struct {
	Recipe string `json:"recipe"` // "": mixed without a plan, and by no recipe of the configuration
	Cold   bool   `json:"cold"`
	Rye    bool   `json:"rye,omitempty"` // of no recipe, and mostly rye
}

// next is what the bulk of such a loaf is ended for.
func (k LoafKind) next(c *config.Config) dough.Next {
	var r plan.Recipe
	switch {
	case k.Rye:
		return dough.RyeBake
	case k.Recipe != "":
		r, _ = c.Plan.FindRecipe(k.Recipe)
	}
	if k.Cold {
		return r.EndsFor(dough.ColdProof)
	}
	return r.EndsFor(dough.RoomProof)
}

// BestStop is where this baker's best loaves of a kind ended their bulk.
type BestStop struct {
	LoafKind
	dough.Best
	InUse bool // plans end the bulk there
}

// BestStops looks through all rated loaves. Kinds whose loaves say nothing are left out,
// unless plans go by them.
func (l Loaves) BestStops(ctx context.Context) ([]BestStop, error) {
	bakes, err := l.m.Store.Journal.Bakes(ctx, store.Query{})
	if err != nil {
		return nil, err
	}
	conf := l.m.Effective()
	own, err := OwnStopsOf(ctx, l.m.Store, conf)
	if err != nil {
		return nil, err
	}
	kinds, loaves := []LoafKind{}, map[LoafKind][]dough.Rated{}
	for _, b := range slices.Backward(bakes) { // oldest first
		if b.Dough == nil {
			continue
		}
		k := LoafKind{conf.Plan.NameNow(b.Dough.Recipe), b.Dough.Cold, b.Dough.Rye}
		if !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
		loaves[k] = append(loaves[k], dough.Rated{Stars: b.Stars, Rise: b.Dough.Rise, TempC: b.Dough.TempC})
	}
	var out []BestStop
	for _, k := range kinds {
		best, ok := dough.BestOf(loaves[k], k.next(conf), conf.Plan.Stops)
		used, inUse := own.of(k)
		switch {
		case ok:
			out = append(out, BestStop{k, best, inUse && math.Abs(used.Rise-best.Middle) < 0.005})
		case inUse:
			out = append(out, BestStop{k, used.Best, true})
		}
	}
	return out, nil
}

// OwnStop is the rise at which plans end the bulk of a kind of loaf, in place of the
// table's.
type OwnStop struct {
	LoafKind
	Rise  float64    `json:"rise"` // of dough of a temperature
	TempC float64    `json:"temp_c"`
	Best  dough.Best `json:"best"` // the loaves that it comes from
}

// OwnStops are those that the baker took.
type OwnStops []OwnStop

// stopsSetting is the name under which the store keeps them.
const stopsSetting = "bulk-stops"

// OwnStopsOf reads those that the baker took, by the names that the recipes have now.
func OwnStopsOf(ctx context.Context, s *store.Store, c *config.Config) (out OwnStops, err error) {
	if s != nil {
		_, err = s.States.Setting(ctx, stopsSetting, &out)
	}
	for i := range out {
		out[i].Recipe = c.Plan.NameNow(out[i].Recipe)
	}
	return out, err
}

func (o OwnStops) of(k LoafKind) (OwnStop, bool) {
	i := slices.IndexFunc(o, func(one OwnStop) bool { return one.LoafKind == k })
	if i < 0 {
		return OwnStop{}, false
	}
	return o[i], true
}

// Of is the baker's own for a recipe; false where the table holds.
func (o OwnStops) Of(recipe string, next dough.Next) (OwnStop, bool) {
	own, ok := o.of(LoafKind{Recipe: recipe, Cold: next == dough.ColdProof})
	if !ok && next == dough.RyeBake { // whatever follows
		return o.of(LoafKind{Recipe: recipe, Cold: true})
	}
	return own, ok
}

// Unplanned is by how much dough that was mixed without a plan should have risen, by the
// baker's own loaves of its kind; false where he took none. Whether it goes into the fridge
// is not known then, so what he took last counts.
func (o OwnStops) Unplanned(c *config.Config, k LoafKind, tempC float64) (rise float64, ok bool) {
	for _, one := range o {
		if k.Cold = one.Cold; one.LoafKind == k {
			next := k.next(c)
			rise, ok = one.Rise*c.Plan.Stops.Rise(tempC, next)/c.Plan.Stops.Rise(one.TempC, next), true
		}
	}
	return rise, ok
}

// Rise is by how much dough of a recipe should have risen before what follows: by the
// baker's own loaves where they were taken, scaled over temperatures as the table is.
func (o OwnStops) Rise(table dough.Stops, recipe string, tempC float64, next dough.Next) float64 {
	rise := table.Rise(tempC, next)
	if own, ok := o.Of(recipe, next); ok {
		rise *= own.Rise / table.Rise(own.TempC, next)
	}
	return rise
}

// UseStop has plans end the bulk of a kind of loaf where the best of them ended, or by the
// table again. It is false where nothing is known of the kind.
func (l Loaves) UseStop(ctx context.Context, k LoafKind, use bool) (bool, error) {
	best, err := l.BestStops(ctx)
	if err != nil {
		return false, err
	}
	i := slices.IndexFunc(best, func(b BestStop) bool { return b.LoafKind == k })
	if i < 0 {
		return false, nil
	}
	own, err := OwnStopsOf(ctx, l.m.Store, l.m.Effective())
	if err != nil {
		return false, err
	}
	own = slices.DeleteFunc(own, func(one OwnStop) bool { return one.LoafKind == k })
	if b := best[i].Best; use {
		own = append(own, OwnStop{k, b.Middle, b.TempC, b})
	}
	return true, l.m.Store.States.SetSetting(ctx, stopsSetting, own)
}
