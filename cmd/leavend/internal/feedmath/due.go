package feedmath

import (
	"slices"
	"time"
)

// Rules are the reminders of the trade. All are common practice, and a baker
// may change each; 0 switches one off.
type Rules struct {
	FeedEvery     time.Duration // of a jar at room temperature
	FridgeEvery   time.Duration // of a jar in the fridge: at least weekly
	FridgeLongest time.Duration // what a jar in the fridge survives: two to three weeks
	CleanFeeds    int           // a clean jar every four or five feeds
	DiscardAge    time.Duration // of the oldest in the discard jar, in the fridge
}

// UsualRules returns the rules where a baker set none: common practice.
func UsualRules() Rules {
	const day = 24 * time.Hour
	return Rules{FeedEvery: day, FridgeEvery: 7 * day, FridgeLongest: 14 * day, CleanFeeds: 5, DiscardAge: 7 * day}
}

// DiscardMove says that discard went into the discard jar besides a feed's, or
// out of it.
type DiscardMove struct {
	At    time.Time
	Act   string  // Kept, Used or Emptied
	Grams float64 // not of Emptied
}

// What may become of discard.
const (
	Kept    = "kept"    // put into the jar
	Used    = "used"    // taken out
	Emptied = "emptied" // all of it taken out
)

// Counts is what the journal tells at a glance.
type Counts struct {
	Fed          bool          // whether there was a feed at all
	SinceFeed    time.Duration // since the last
	Cleaned      bool          // whether the jar was ever noted as clean
	SinceClean   int           // feeds since then, that one not counted; all feeds if never
	DiscardG     float64       // in the discard jar
	DiscardSince time.Duration // age of the oldest discard in it; 0 if it is empty
}

// Count works the counts out at now, from feeds and moves of discard in any
// order. Discard is used oldest first. begun is since when the jar holds this
// starter, zero if it never held another: feeds before it were another's, and
// the new one came in a clean jar. What the old one left over stays counted.
func Count(now, begun time.Time, feeds []Feed, moves []DiscardMove) Counts {
	var c Counts
	feeds = slices.SortedStableFunc(slices.Values(feeds), func(a, b Feed) int { return a.At.Compare(b.At) })
	for _, f := range feeds {
		if f.At.After(now) || f.At.Before(begun) {
			continue
		}
		first := !c.Fed && !begun.IsZero()
		c.Fed, c.SinceFeed = true, now.Sub(f.At)
		c.SinceClean++
		if f.CleanJar || first {
			c.Cleaned, c.SinceClean = true, 0
		}
	}
	c.DiscardG, c.DiscardSince = discard(now, feeds, moves)
	return c
}

// discard follows the discard jar through the moves and what feeds put in.
func discard(now time.Time, feeds []Feed, moves []DiscardMove) (grams float64, since time.Duration) {
	moves = slices.Clone(moves)
	for _, f := range feeds {
		if f.DiscardG > 0 {
			moves = append(moves, DiscardMove{f.At, Kept, f.DiscardG})
		}
	}
	slices.SortStableFunc(moves, func(a, b DiscardMove) int { return a.At.Compare(b.At) })
	var jar []DiscardMove
	for _, m := range moves {
		switch {
		case m.At.After(now):
		case m.Act == Emptied:
			jar = nil
		case m.Act == Used:
			jar = taken(jar, m.Grams)
		case m.Grams > 0:
			jar = append(jar, m)
		}
	}
	for _, m := range jar {
		grams += m.Grams
	}
	if len(jar) > 0 {
		since = now.Sub(jar[0].At)
	}
	return grams, since
}

// taken returns the jar without its oldest grams.
func taken(jar []DiscardMove, grams float64) []DiscardMove {
	for len(jar) > 0 && grams >= jar[0].Grams {
		grams -= jar[0].Grams
		jar = jar[1:]
	}
	if len(jar) > 0 && grams > 0 {
		jar[0].Grams -= grams
	}
	return jar
}

// Kinds of reminders.
const (
	FeedDue    = "feed"
	FridgeDue  = "fridge"
	FridgeLate = "fridge late"
	CleanDue   = "clean jar"
	DiscardOld = "discard"
)

// Reminder is something that is due.
type Reminder struct {
	Kind  string
	Since time.Duration // how long ago the last feed was, or how old the discard is
	Feeds int           // for CleanDue
}

// Due returns what is due by the rules, the most pressing first.
func Due(c Counts, fridge bool, r Rules) []Reminder {
	var due []Reminder
	past := func(age, limit time.Duration) bool { return limit > 0 && age >= limit }
	switch {
	case !c.Fed:
	case fridge && past(c.SinceFeed, r.FridgeLongest):
		due = append(due, Reminder{Kind: FridgeLate, Since: c.SinceFeed})
	case fridge && past(c.SinceFeed, r.FridgeEvery):
		due = append(due, Reminder{Kind: FridgeDue, Since: c.SinceFeed})
	case !fridge && past(c.SinceFeed, r.FeedEvery):
		due = append(due, Reminder{Kind: FeedDue, Since: c.SinceFeed})
	}
	if r.CleanFeeds > 0 && c.SinceClean >= r.CleanFeeds {
		due = append(due, Reminder{Kind: CleanDue, Feeds: c.SinceClean})
	}
	if c.DiscardG > 0 && past(c.DiscardSince, r.DiscardAge) {
		due = append(due, Reminder{Kind: DiscardOld, Since: c.DiscardSince})
	}
	return due
}
