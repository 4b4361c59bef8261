package backend

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// Journal reads what the baker did.
type Journal struct {
	m      *monitor.Monitor
	curves *History
}

// Book is a part of the journal, newest first, with its counts.
func (j Journal) Book(ctx context.Context, slug string, before time.Time, limit int) (web.Book, error) {
	if j.m.Vessel(slug) == nil {
		return web.Book{}, failure.ErrUnknown
	}
	feeds, err := j.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, To: before, Limit: limit + 1})
	if err != nil {
		return web.Book{}, err
	}
	bakes, err := j.m.Store.Journal.Bakes(ctx, store.Query{Vessel: slug, To: before, Limit: limit})
	if err != nil {
		return web.Book{}, err
	}
	book := web.Book{Feeds: []web.Feed{}, Bakes: []web.Bake{}, More: len(feeds) > limit, Reminders: []web.Reminder{}}
	outcomes, err := j.m.Outcomes(ctx, slug, feeds)
	if err != nil {
		return web.Book{}, err
	}
	if book.Starters, err = j.startersAmong(ctx, slug, feeds, before); err != nil {
		return web.Book{}, err
	}
	corrected, err := j.m.Store.Journal.Corrected(ctx, slug)
	if err != nil {
		return web.Book{}, err
	}
	for _, f := range feeds[:min(limit, len(feeds))] {
		out := feedOf(f)
		out.Corrected = corrected[f.ID]
		if o, ok := outcomes[f.ID]; ok {
			out.Outcome.RiseRatio = web.Real(monitor.OrNaN(o.RiseRatio))
			out.Outcome.HoursToTop = web.Real(o.PeakAt.Sub(f.At).Hours())
			out.Outcome.MeanTempC = web.Real(monitor.OrNaN(o.MeanTempC))
			out.Outcome.HoursOnTop = web.Real(j.curves.hoursOnTop(ctx, f))
		}
		book.Feeds = append(book.Feeds, out)
	}
	j.curves.baselines.keep(ctx, j.m.Store, slug)
	photos, err := j.m.Store.Journal.Photographed(ctx, slug)
	if err != nil {
		return web.Book{}, err
	}
	for _, b := range bakes {
		book.Bakes = append(book.Bakes, webBake(b, photos[b.ID], corrected[b.ID]))
	}
	return book, j.addCounts(ctx, &book, slug)
}

// startersAmong returns the beginnings of starters that belong between feeds,
// which are newest first; those before the first feed as well, at its end.
func (j Journal) startersAmong(ctx context.Context, slug string, feeds []store.Feed, before time.Time) ([]web.Starter, error) {
	q := store.Query{Vessel: slug, To: before}
	if older := len(feeds); older > 0 {
		earlier, err := j.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, To: feeds[older-1].At, Limit: 1})
		if err != nil {
			return nil, err
		}
		if len(earlier) > 0 {
			q.From = feeds[older-1].At
		}
	}
	begun, err := j.m.Store.Journal.Starters(ctx, q)
	out := []web.Starter{}
	for _, n := range begun {
		out = append(out, webStarter(n))
	}
	return out, err
}

// addCounts adds what the journal tells at a glance.
func (j Journal) addCounts(ctx context.Context, book *web.Book, slug string) error {
	now := j.m.Clock.Now()
	d, err := j.m.Due(ctx, j.m.Vessel(slug), now)
	if err != nil {
		return err
	}
	for _, m := range d.Discards[:min(len(d.Discards), movesShown)] {
		book.DiscardMoves = append(book.DiscardMoves, webMove(m))
	}
	book.FeedsSinceWash, book.DiscardG = d.SinceClean, web.Real(d.DiscardG)
	if d.DiscardSince > 0 {
		book.DiscardSince = now.Add(-d.DiscardSince)
	}
	for _, sign := range feedmath.Signs() {
		book.Signs = append(book.Signs, web.Sign(sign))
	}
	for _, due := range d.Reminders {
		say := text.Say("feeds.due."+strings.ReplaceAll(due.Kind, " ", "_"), text.Duration("span", due.Since), text.Count("n", due.Feeds))
		book.Reminders = append(book.Reminders, web.Reminder{Code: due.Kind, Text: say.In(j.m.Conf.Reader()), Say: say})
	}
	return nil
}

// Suggest says what to keep and add.
func (j Journal) Suggest(ctx context.Context, slug string, needG float64) (web.Suggestion, error) {
	if j.m.Vessel(slug) == nil {
		return web.Suggestion{}, failure.ErrUnknown
	}
	feeds, err := j.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, Limit: 20})
	if err != nil {
		return web.Suggestion{}, err
	}
	like, ok := feedmath.Suggest(monitor.MixedFeeds(feeds))
	if needG == 0 {
		if !ok {
			return web.Suggestion{}, &failure.Refusal{Code: "no-feeds"}
		}
		return suggestion(like.Mix(1), like.Flours, "Like your last feeds."), nil
	}
	ratio, have := feedmath.Ratio{Starter: 1, Flour: 1, Water: 1}, feedmath.Starter{Grams: needG, Hydration: 1}
	why := "Equal weights, for want of feeds to go by."
	if ok {
		if r, known := like.Mix(1).Ratio(); known {
			ratio, why = r, fmt.Sprintf("By your usual %s.", r)
		}
		have = feedmath.Starter{Grams: like.Mix(1).TotalG(), Hydration: 1}
	}
	steps, err := feedmath.Plan(feedmath.Need{Grams: needG, SpareG: 20, StuckG: feedmath.UsualStuckG, LostShare: feedmath.UsualLostShare, Have: have, Ratio: ratio})
	if err != nil {
		return web.Suggestion{}, &failure.Refusal{Code: "plan", Say: text.Explain(err)}
	}
	last := steps[len(steps)-1]
	if len(steps) > 1 {
		why += fmt.Sprintf(" It takes %d feeds one after the other; this is the last.", len(steps))
	}
	out := suggestion(last.Mix, like.Flours, why)
	out.YieldG = web.Real(last.RipeG)
	return out, nil
}

// suggestion is a mix as the page shows it, its flour shared out as before.
func suggestion(m feedmath.Mix, flours []feedmath.Flour, why string) web.Suggestion {
	out := web.Suggestion{KeepG: web.Real(m.Kept.Grams), WaterG: web.Real(m.WaterG), YieldG: web.Real(m.TotalG()), Why: why, Flours: []web.Flour{}}
	total := 0.0
	for _, f := range flours {
		total += f.Grams
	}
	if total == 0 {
		out.Flours = []web.Flour{{Kind: "flour", Grams: web.Real(m.FlourG)}}
		return out
	}
	for _, f := range flours {
		out.Flours = append(out.Flours, web.Flour{Kind: f.Kind, Grams: web.Real(math.Round(m.FlourG * f.Grams / total))})
	}
	return out
}
