package notify

import (
	"slices"
	"time"
)

// What a jar wants that can wait, a clean jar or the use of old discard, is told with
// the next message about the jar, and by itself only where there was none for nine days:
// who feeds once a week, a day late at times, is told one thing a week.

// waitsFor is how long such a notice waits for a message that it can go with.
const waitsFor = 9 * 24 * time.Hour

// canWait takes in what a jar wants: again at each look, for as long as it holds. about
// is what it goes by: the last clean jar, or the oldest discard.
func (r *rules) canWait(note Notice, about time.Time) {
	v, now := r.vessel(note.Vessel), r.now()
	told := map[Kind]*time.Time{CleanJar: &v.CleanJar, DiscardOld: &v.Discard}[note.Kind]
	if told.Equal(about) {
		return
	}
	if now.Sub(v.Told) >= waitsFor {
		*told, v.Told, r.changed = about, now, true
		r.post(nil, note)
		return
	}
	waits := slices.ContainsFunc(v.Waits, func(w waiting) bool { return w.Note.Kind == note.Kind && w.About.Equal(about) })
	if !waits {
		v.drop(note.Kind)
		v.Waits, r.changed = append(v.Waits, waiting{note, about}), true
	}
}

// drop takes out what waits of a kind.
func (v *vesselState) drop(k Kind) {
	v.Waits = slices.DeleteFunc(v.Waits, func(w waiting) bool { return w.Note.Kind == k })
}

// withWaiting adds to a message about a jar what waits to be told of it.
func (r *rules) withWaiting(note Notice) Notice {
	v := r.vessel(note.Vessel)
	v.Told, r.changed = r.now(), true
	for _, w := range v.Waits {
		note.Also = append(note.Also, w.Note)
		*map[Kind]*time.Time{CleanJar: &v.CleanJar, DiscardOld: &v.Discard}[w.Note.Kind] = w.About
	}
	v.Waits = nil
	return note
}

// forget begins again with a feed. What was told of jar and discard holds.
func (v *vesselState) forget() vesselState {
	return vesselState{CleanJar: v.CleanJar, Discard: v.Discard, Fridge: v.Fridge, Told: v.Told}
}
