package daemon

import (
	"context"
	"errors"
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

// Book is a part of the journal, newest first, with its counts.
func (p *PageHouse) Book(ctx context.Context, slug string, before time.Time, limit int) (web.Book, error) {
	if p.D.Vessel(slug) == nil {
		return web.Book{}, failure.ErrUnknown
	}
	feeds, err := p.D.Store.Feeds(ctx, store.Query{Vessel: slug, To: before, Limit: limit + 1})
	if err != nil {
		return web.Book{}, err
	}
	bakes, err := p.D.Store.Bakes(ctx, store.Query{Vessel: slug, To: before, Limit: limit})
	if err != nil {
		return web.Book{}, err
	}
	book := web.Book{Feeds: []web.Feed{}, Bakes: []web.Bake{}, More: len(feeds) > limit, Reminders: []web.Reminder{}}
	outcomes, err := p.D.Outcomes(ctx, slug, feeds)
	if err != nil {
		return web.Book{}, err
	}
	if book.Starters, err = p.startersAmong(ctx, slug, feeds, before); err != nil {
		return web.Book{}, err
	}
	corrected, err := p.D.Store.Corrected(ctx, slug)
	if err != nil {
		return web.Book{}, err
	}
	for _, f := range feeds[:min(limit, len(feeds))] {
		out := p.webFeed(f)
		out.Corrected = corrected[f.ID]
		if o, ok := outcomes[f.ID]; ok {
			out.Outcome.RiseRatio = web.Real(monitor.OrNaN(o.RiseRatio))
			out.Outcome.HoursToTop = web.Real(o.PeakAt.Sub(f.At).Hours())
			out.Outcome.MeanTempC = web.Real(monitor.OrNaN(o.MeanTempC))
			out.Outcome.HoursOnTop = web.Real(p.hoursOnTop(ctx, f))
		}
		book.Feeds = append(book.Feeds, out)
	}
	p.basis.keep(ctx, p.D.Store, slug)
	photos, err := p.D.Store.Photographed(ctx, slug)
	if err != nil {
		return web.Book{}, err
	}
	for _, b := range bakes {
		book.Bakes = append(book.Bakes, web.Bake{ID: feedID(b.ID), At: b.At, Stars: b.Stars, Note: b.Note, Has: photos[b.ID], Corrected: corrected[b.ID]})
	}
	return book, p.addCounts(ctx, &book, slug)
}

// startersAmong returns the beginnings of starters that belong between feeds,
// which are newest first; those before the first feed as well, at its end.
func (p *PageHouse) startersAmong(ctx context.Context, slug string, feeds []store.Feed, before time.Time) ([]web.Starter, error) {
	q := store.Query{Vessel: slug, To: before}
	if older := len(feeds); older > 0 {
		earlier, err := p.D.Store.Feeds(ctx, store.Query{Vessel: slug, To: feeds[older-1].At, Limit: 1})
		if err != nil {
			return nil, err
		}
		if len(earlier) > 0 {
			q.From = feeds[older-1].At
		}
	}
	begun, err := p.D.Store.Starters(ctx, q)
	out := []web.Starter{}
	for _, n := range begun {
		out = append(out, webStarter(n))
	}
	return out, err
}

// addCounts adds what the journal tells at a glance.
func (p *PageHouse) addCounts(ctx context.Context, book *web.Book, slug string) error {
	now := p.D.Clock.Now()
	d, err := p.D.Due(ctx, p.D.Vessel(slug), now)
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
		book.Reminders = append(book.Reminders, web.Reminder{Code: due.Kind, Text: say.In(p.D.Conf.Reader()), Say: say})
	}
	return nil
}

// webFeed is a stored feed as the page knows it.
func (p *PageHouse) webFeed(f store.Feed) web.Feed {
	nan := web.Real(math.NaN())
	out := web.Feed{
		ID: feedID(f.ID), At: f.At, Found: f.Source == store.Found, KeptG: web.Real(f.KeptG), WaterG: web.Real(f.WaterG),
		DiscardG: web.Real(f.DiscardG), CleanJar: f.CleanJar, Note: f.Note, Flours: []web.Flour{},
		Outcome: &web.Outcome{HydrationPct: nan, RiseRatio: nan, HoursToTop: nan, HoursOnTop: nan, MeanTempC: nan},
	}
	for _, fl := range f.Flours {
		out.Flours = append(out.Flours, web.Flour{Kind: fl.Kind, Grams: web.Real(fl.Grams)})
	}
	if f.WaterTempC != nil {
		t := web.Real(*f.WaterTempC)
		out.WaterTempC = &t
	}
	mix := monitor.MixedFeed(f).Mix(1)
	if r, ok := mix.Ratio(); ok {
		out.Outcome.Ratio = r.String()
	}
	if h, ok := mix.Hydration(); ok {
		out.Outcome.HydrationPct = web.Real(100 * h)
	}
	return out
}

// storeFeed is the page's feed as the store keeps it.
func storeFeed(f web.Feed) store.Feed {
	out := store.Feed{At: f.At, KeptG: float64(f.KeptG), WaterG: float64(f.WaterG), DiscardG: float64(f.DiscardG), CleanJar: f.CleanJar, Note: f.Note}
	for _, fl := range f.Flours {
		out.Flours = append(out.Flours, store.Flour{Kind: fl.Kind, Grams: float64(fl.Grams)})
	}
	if f.WaterTempC != nil {
		t := float64(*f.WaterTempC)
		out.WaterTempC = &t
	}
	return out
}

// AddFeed notes a feed; it is on the disk when it returns.
func (p *PageHouse) AddFeed(ctx context.Context, slug string, f web.Feed) (web.Feed, error) {
	if p.D.Vessel(slug) == nil {
		return f, failure.ErrUnknown
	}
	stored, err := p.D.Fed(ctx, slug, storeFeed(f))
	if err != nil {
		return f, err
	}
	out := p.webFeed(stored)
	out.UndoUntil = p.D.Clock.Now().Add(monitor.UndoFor)
	out.InMemory = p.D.stopgap != ""
	return out, nil
}

// CorrectFeed replaces a feed's details; the old ones are kept.
func (p *PageHouse) CorrectFeed(ctx context.Context, slug, id string, f web.Feed) (web.Feed, error) {
	old, err := p.feed(ctx, slug, id)
	if err != nil {
		return f, err
	}
	changed := storeFeed(f)
	changed.ID, changed.Vessel, changed.Source, changed.ChilledH = old.ID, slug, old.Source, old.ChilledH
	if err := p.D.Store.CorrectFeed(ctx, changed); err != nil {
		return f, err
	}
	if !f.At.IsZero() && !f.At.Equal(old.At) {
		if err := errors.Join(p.moveStarter(ctx, slug, old.At, f.At), p.D.Rebuild(ctx, p.D.Vessel(slug))); err != nil {
			return f, err
		}
	}
	stored, err := p.feed(ctx, slug, id)
	out := p.webFeed(stored)
	out.Corrected = true
	return out, err
}

// UndoFeed takes a feed back.
func (p *PageHouse) UndoFeed(ctx context.Context, slug, id string) error {
	f, err := p.feed(ctx, slug, id)
	if err != nil {
		return err
	}
	return p.D.Unfed(ctx, slug, f.ID)
}

// Suggest says what to keep and add.
func (p *PageHouse) Suggest(ctx context.Context, slug string, needG float64) (web.Suggestion, error) {
	if p.D.Vessel(slug) == nil {
		return web.Suggestion{}, failure.ErrUnknown
	}
	feeds, err := p.D.Store.Feeds(ctx, store.Query{Vessel: slug, Limit: 20})
	if err != nil {
		return web.Suggestion{}, err
	}
	like, ok := feedmath.Suggest(monitor.MixedFeeds(feeds))
	if needG == 0 {
		if !ok {
			return web.Suggestion{}, &failure.Refusal{Code: "no-feeds", Why: "No feed with weights is in the journal yet; say how much ripe starter you need instead."}
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
		return web.Suggestion{}, &failure.Refusal{Code: "plan", Why: err.Error()}
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

// BakePhoto returns the photo of a bake.
func (p *PageHouse) BakePhoto(ctx context.Context, _, bake string) ([]byte, error) {
	id, err := parseID(bake)
	if err != nil {
		return nil, err
	}
	_, data, err := p.D.Store.Photo(ctx, id)
	if errors.Is(err, store.ErrNotFound) {
		return nil, failure.ErrUnknown
	}
	return data, err
}
