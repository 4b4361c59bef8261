package monitor

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/store"
)

// The bulk of a dough ended where the baker, or a step of the plan, said so; and else where
// its curve shows that the bowl was emptied.

// bulkEnd is the first use of the dough in a bowl between its mixing and its baking that
// was not taken back.
func bulkEnd(settings []store.Setting, bowl string, mixed, baked time.Time) (end Used, ok bool) {
	for _, one := range settings { // the newest first
		var u Used
		if one.Name != usedSetting(bowl) || json.Unmarshal(one.Value, &u) != nil || !one.Made.After(mixed) {
			continue
		}
		switch {
		case u.At.IsZero() && !one.Made.After(baked):
			return end, ok // those before were taken back
		case u.At.After(mixed) && !u.At.After(baked):
			chilled := ok && end.How == DoughChilled
			if end, ok = u, true; chilled {
				end.How = DoughChilled
			}
		}
	}
	return end, ok
}

// meanTemp is the mean temperature of a vessel between two moments; 0 where it is not
// known.
func (l Loaves) meanTemp(ctx context.Context, slug string, from, to time.Time) (float64, error) {
	w, err := l.m.Store.Readings.Window(ctx, slug, from, to, 1)
	if err != nil || len(w.Points) == 0 {
		return 0, err
	}
	st, ok := StatOf(w, w.Points[0], store.Warmth)
	if !ok || math.IsNaN(st.Mean) {
		return 0, nil
	}
	return st.Mean, nil
}

// emptied finds in the curve of a bowl when its dough was taken out, and how far it had risen
// then; false where the curve does not show it.
func (l Loaves) emptied(ctx context.Context, slug string, mixed, baked time.Time) (Used, bool, error) {
	v := l.m.Vessel(slug)
	if v == nil || !baked.After(mixed) {
		return Used{}, false, nil
	}
	w, err := l.m.Store.Readings.Window(ctx, slug, mixed, baked, int(baked.Sub(mixed)/emptiedStep)+1)
	if err != nil {
		return Used{}, false, err
	}
	var levels []level
	for _, p := range w.Points {
		if st, ok := StatOf(w, p, store.Height); ok {
			levels = append(levels, level{p.At, v.Shape.EquivalentMM(max(st.Mean, 0))})
		}
	}
	at, rise, ok := endOf(levels)
	return Used{At: at, How: DoughShaped, Rise: rise}, ok, nil
}

// level is how high the dough in a bowl stands at a moment, as an equivalent height.
type level struct {
	at time.Time
	mm float64
}

// What shows that a bowl was emptied: its level falls far below that at the mixing, which
// no fold and no collapse does, and stays there for longer than a fold takes.
const (
	emptiedStep  = 4 * time.Minute
	mixedFor     = 12 * time.Minute // of the curve, which show the level at the mixing
	emptiedBelow = 0.6              // of that level
	emptiedFor   = 24 * time.Minute
	endsOver     = 12 * time.Minute // before that, which show the level at the end
)

// endOf finds when a bowl was emptied, and by which share its dough had risen until then.
func endOf(levels []level) (at time.Time, rise float64, ok bool) {
	if len(levels) == 0 {
		return at, 0, false
	}
	from := levels[0].at
	base := middleLevel(levels, from, from.Add(mixedFor))
	for i, x := range levels {
		switch {
		case x.at.Sub(from) < mixedFor || x.mm >= emptiedBelow*base:
			continue
		case levels[len(levels)-1].at.Sub(x.at) < emptiedFor:
			return at, 0, false
		}
		back := slices.ContainsFunc(levels[i:], func(y level) bool { return y.at.Sub(x.at) <= emptiedFor && y.mm >= emptiedBelow*base })
		if back {
			continue // a hand, or the bowl lifted off
		}
		rise = middleLevel(levels[:i], x.at.Add(-endsOver), x.at)/base - 1
		return x.at, rise, rise > 0.05
	}
	return at, 0, false
}

// middleLevel is the median level between two moments, the first included; NaN where there
// is none.
func middleLevel(levels []level, from, to time.Time) float64 {
	var mm []float64
	for _, x := range levels {
		if !x.at.Before(from) && x.at.Before(to) {
			mm = append(mm, x.mm)
		}
	}
	if len(mm) == 0 {
		return math.NaN()
	}
	slices.Sort(mm)
	return mm[len(mm)/2]
}
