package web

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// outlook is what the document says of one vessel: the words and the picture
// that the script will set in their place a moment later. What hangs on the
// baker's choice of units is left to the script, and only its room is kept.
type outlook struct {
	ID, Name, Stage, Standing string
	Label, Hour, Range        string
	Long, Half                bool // an hour with a day before it, or with am or pm behind it
	Note                      string
	Facts                     []word
	Press                     string // the button, or "" while a feed can be taken back
	Picture                   picture
}

// wordsOfFrame are all that the document says.
var wordsOfFrame = []string{
	"screens", "stage", "stageOfBowl", "expected", "isNow", "was", "between", "topRatio", "noForecast", "tomorrowAt", "yesterdayAt",
	"fact", "riseOf", "riseOfBowl", "fed", "mixed", "inFridge", "demo", "faultBanner",
}

// teller writes the document's words for one visitor.
type teller struct {
	*index
	now    time.Time
	zone   *time.Location
	layout string // of an hour
}

func (x *index) teller(k Kitchen, layout string) teller {
	zone, err := time.LoadLocation(k.Zone)
	if err != nil {
		zone = nil
	}
	return teller{x, k.At, zone, layout}
}

func (t teller) clock(at time.Time) string { return at.In(t.zone).Format(t.layout) }

// moment is an hour, with its day where that is next to this one; of farther
// days, and where the kitchen's zone is not known, the script tells.
func (t teller) moment(at time.Time) string {
	if t.zone == nil || at.IsZero() {
		return ""
	}
	day := func(shift int) string { return t.now.In(t.zone).AddDate(0, 0, shift).Format(time.DateOnly) }
	switch at.In(t.zone).Format(time.DateOnly) {
	case day(0):
		return t.clock(at)
	case day(1):
		return t.words.say("tomorrowAt", "clock", t.clock(at))
	case day(-1):
		return t.words.say("yesterdayAt", "clock", t.clock(at))
	}
	return ""
}

// vessel says of a vessel what the script will say a moment later.
func (t teller) vessel(v Vessel) outlook {
	o := outlook{ID: v.ID, Name: v.Name, Stage: string(v.Stage), Note: sentence(v.Note), Picture: t.outlines.draw(v)}
	if v.Kind == Bowl {
		o.Standing = t.words.of("stageOfBowl", o.Stage)
	}
	if o.Standing == "" {
		o.Standing = t.words.of("stage", o.Stage)
	}
	kind := string(v.Kind)
	switch {
	case !v.FridgeSince.IsZero():
		o.Label, o.Hour = t.words.say("inFridge"), t.moment(v.FridgeSince)
	case v.Top != nil && (v.Stage == OnTop || v.Stage == OnTarget):
		o.Label, o.Hour, o.Range = t.words.of("isNow", kind), t.moment(v.Top.TopAt), t.topRatio(v)
	case v.Top != nil:
		o.Label, o.Hour, o.Range = t.words.of("was", kind), t.moment(v.Top.TopAt), t.topRatio(v)
	case v.Forecast != nil:
		f := v.Forecast
		if o.Label, o.Hour = t.words.of("expected", kind), t.moment(f.TopAt); t.zone != nil {
			o.Range = t.words.say("between", "low", t.clock(f.LowAt), "high", t.clock(f.HighAt))
		}
	default:
		o.Label = t.words.say("noForecast")
	}
	o.Long, o.Half = utf8.RuneCountInString(o.Hour) > 8, strings.HasSuffix(t.layout, "pm")
	t.facts(&o, v)
	return o
}

func (t teller) topRatio(v Vessel) string {
	return t.words.say("topRatio", "times", times(v.Top.Ratio))
}

// facts keeps the room of the lines below the shelf, and presses nothing while
// a feed can be taken back.
func (t teller) facts(o *outlook, v Vessel) {
	rise, fed := "", "fed"
	if v.Ratio != nil {
		rise = t.words.say("riseOf", "times", times(v.Ratio.Value))
	}
	if v.Kind == Bowl {
		fed = "mixed"
		if v.Ratio != nil && given(v.TargetRatio) {
			rise = t.words.say("riseOfBowl", "times", times(v.Ratio.Value), "goal", times(v.TargetRatio))
		}
	}
	o.Facts = []word{{t.words.of("fact", "rise"), rise}, {t.words.of("fact", fed), ""}, {t.words.of("fact", "warmth"), ""}}
	if v.Feed != nil {
		o.Facts[1].Label = t.moment(v.Feed.At)
	}
	if v.Mat != "" {
		o.Facts = append(o.Facts, word{t.words.of("fact", "mat"), ""})
	}
	if v.Humidity != nil {
		o.Facts = append(o.Facts, word{t.words.of("fact", "air"), ""})
	}
	if v.Feed == nil || !v.Feed.UndoUntil.After(t.now) {
		o.Press = t.words.say(fed)
	}
}

// times writes a rise ratio, 1.86×.
func times(r Real) string {
	if math.IsNaN(float64(r)) {
		return "–"
	}
	return strconv.FormatFloat(float64(r), 'f', 2, 64) + "×"
}

// sentence gives a daemon's words a capital in front and a full stop behind.
func sentence(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	text = string(unicode.ToUpper(first)) + text[size:]
	switch text[len(text)-1] {
	case '.', '!', '?':
		return text
	}
	return text + "."
}
