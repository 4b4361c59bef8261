package monitor

import (
	"math"

	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/store"
)

// MixedFeed and MixedFeeds are stored feeds as the arithmetic wants them.
func MixedFeed(f store.Feed) feedmath.Feed {
	out := feedmath.Feed{At: f.At, KeptG: f.KeptG, WaterG: f.WaterG, DiscardG: f.DiscardG, CleanJar: f.CleanJar}
	for _, fl := range f.Flours {
		out.Flours = append(out.Flours, feedmath.Flour(fl))
	}
	return out
}

func MixedFeeds(feeds []store.Feed) []feedmath.Feed {
	out := make([]feedmath.Feed, 0, len(feeds))
	for _, f := range feeds {
		out = append(out, MixedFeed(f))
	}
	return out
}

// StatOf returns one channel of a point.
func StatOf(w store.Window, pt store.Point, c store.Channel) (store.Stat, bool) {
	for i, name := range w.Channels {
		if name == c && pt.Stats[i].N > 0 {
			return pt.Stats[i], true
		}
	}
	return store.Stat{}, false
}

// OrNaN turns a zero that stands for "not known" into NaN.
func OrNaN(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}
