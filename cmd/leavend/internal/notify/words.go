package notify

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Words puts notices into a baker's plain English. Everything a message says
// is in this file; another language is another file like it. The zero value
// writes metric, on a 24-hour clock, in UTC.
type Words struct {
	Zone    *time.Location
	Hours12 bool
	US      bool // inches
}

// Letter is a message in words.
type Letter struct {
	ID     string // the same when it is sent twice
	Kind   Kind
	Vessel string
	At     time.Time // what it is about
	Title  string    // one short line
	Text   string    // one or more sentences
	Link   string    // to say that somebody came; may be empty
	Urgent bool
}

// longAgo is when a top is told as one that was. A jar stands at its top for
// an hour or two (common practice).
const longAgo = time.Hour

// Say puts a notice into words as they are true at now.
func (w Words) Say(n Notice, now time.Time) Letter {
	l := Letter{Kind: n.Kind, Vessel: n.Vessel, At: n.At, Urgent: n.Kind.urgent()}
	l.Title, l.Text = w.say(n, now)
	if n.Repeat > 0 {
		l.Title = "Again: " + l.Title
	}
	return l
}

func (w Words) say(n Notice, now time.Time) (title, text string) {
	at := w.clock(n.At, now)
	switch n.Kind {
	case HeadsUp:
		return w.headsUp(n, now)
	case OnTop:
		if now.Sub(n.At) > longAgo {
			return fmt.Sprintf("%s was on top at %s", n.Name, at),
				fmt.Sprintf("%s was on top at %s%s. It may be past it now: look at it, then use it soon or feed it.", n.Name, at, w.rise(n))
		}
		if n.At.After(now) {
			return n.Name + " is on top now",
				fmt.Sprintf("%s is as good as at its top; it should stand highest at about %s%s. Use it within the hour, or feed it.", n.Name, at, w.rise(n))
		}
		return n.Name + " is on top now",
			fmt.Sprintf("%s has stood at its top since %s%s. Use it within the hour, or feed it.", n.Name, at, w.rise(n))
	case Falling:
		return n.Name + " is falling",
			fmt.Sprintf("%s is falling; its top was at %s. Use it soon, or feed it, or put it in the fridge.", n.Name, at)
	case TargetSoon:
		return fmt.Sprintf("%s: ready at about %s", n.Name, at),
			fmt.Sprintf("The dough in %s will be at its target at about %s%s. Plan to be there to shape it.", n.Name, at, w.between(n, now))
	case AtTarget:
		if now.Sub(n.At) > longAgo {
			return fmt.Sprintf("%s was ready at %s", n.Name, at),
				fmt.Sprintf("The dough in %s reached its target at %s%s. It has risen further since: shape it or chill it at once.", n.Name, at, w.rise(n))
		}
		return n.Name + " is ready",
			fmt.Sprintf("The dough in %s reached its target at %s%s. Shape it now, or put it in the fridge to slow it.", n.Name, at, w.rise(n))
	case FeedDue:
		switch {
		case n.Late:
			return n.Name + " has waited long in the fridge",
				fmt.Sprintf("%s was last fed %s. Take it out and feed it now; look at it and smell it first. If it smells bad or shows mould, or pink or orange streaks, throw it away.", n.Name, w.when(n.At, now))
		case n.Cold:
			return n.Name + " wants feeding, in the fridge",
				fmt.Sprintf("%s was last fed %s. In the fridge it wants a feed at least once a week: take it out and feed it in the next days.", n.Name, w.when(n.At, now))
		}
		return n.Name + " wants feeding",
			fmt.Sprintf("%s was last fed %s. Feed it, or put it in the fridge if it must wait.", n.Name, w.when(n.At, now))
	case CleanJar:
		return n.Name + " wants a clean jar",
			fmt.Sprintf("%s has been fed %d times in the same jar (counted at %s). Move it to a clean jar at the next feed.", n.Name, n.Count, at)
	case Worn:
		return "Heat mat: its switch wears out",
			fmt.Sprintf("The switch of the heat mat has switched on %d times; one like it commonly lasts about %d. Buy a new one and put it in within the next weeks: a worn one may stick and stay on. Until then everything goes on as before.", n.Count, n.Life)
	case PlanStep:
		return w.planStep(n, at)
	case MatFault:
		return "Heat mat: look at it now",
			fmt.Sprintf("Since %s: %s. Go and look now; if in doubt, pull the mat's plug.", at, sentence(n.Text))
	case SensorFault:
		return n.Name + ": a sensor is out",
			fmt.Sprintf("Since %s: %s. Until it answers, %s is watched badly or not at all.", at, sentence(n.Text), n.Name)
	case Storage:
		return "Readings cannot be kept",
			fmt.Sprintf("Since %s: %s. Make room on the disk, or run 'leavend check'. Watching and warming go on meanwhile.", at, sentence(n.Text))
	case Normal:
		return w.normal(n, now)
	case Test:
		return "leavend: a test", fmt.Sprintf("This is a test, sent at %s. If you can read it, messages reach you and there is nothing to do.", at)
	}
	return n.Name, sentence(n.Text)
}

// planStep says what to do next for the bread.
func (w Words) planStep(n Notice, at string) (title, text string) {
	if n.Wish {
		return fmt.Sprintf("%s will not be ready at %s", n.Name, at), sentence(n.Text) + "."
	}
	if n.Step == "" {
		return "The plan for the bread must change", sentence(n.Text) + "."
	}
	title = fmt.Sprintf("%s at %s", strings.ToUpper(n.Step[:1])+n.Step[1:], at)
	text = sentence(n.Text) + "."
	if n.Until.After(n.At.Add(10 * time.Minute)) {
		text += fmt.Sprintf(" It can wait until %s.", w.clock(n.Until, n.At))
	}
	return title, text
}

func (w Words) headsUp(n Notice, now time.Time) (title, text string) {
	at, what, do := w.clock(n.At, now), "on top", "Get flour, water and scales ready."
	if n.Bowl {
		what, do = "ready", "Clear the bench."
	}
	title = fmt.Sprintf("%s: %s at about %s", n.Name, what, at)
	text = fmt.Sprintf("%s should be %s at about %s%s, %s. %s", n.Name, what, at, w.between(n, now), w.in(n.At.Sub(now)), do)
	switch {
	case n.Told.IsZero():
	case n.At.After(n.Told):
		text = fmt.Sprintf("Later than the %s said before: %s", w.clock(n.Told, now), text)
	default:
		text = fmt.Sprintf("Sooner than the %s said before: %s", w.clock(n.Told, now), text)
	}
	return title, text
}

// normal says that a fault is over, or sums up one that comes and goes.
func (w Words) normal(n Notice, now time.Time) (title, text string) {
	who := map[Kind]string{MatFault: "The heat mat", Storage: "Storage"}[n.Fault]
	if who == "" {
		who = "The sensor of " + n.Name
	}
	from, until := w.clock(n.At, now), w.clock(n.Until, now)
	switch {
	case n.Stays:
		return who + " comes and goes",
			fmt.Sprintf("%s failed %d times from %s to %s and still comes and goes: %s. Look for a loose cable.", who, n.Times, from, until, sentence(n.Text))
	case n.Times > 1:
		return who + " is well again",
			fmt.Sprintf("%s is well again since %s. It failed %d times from %s on: %s. Look for a loose cable, or it will fail again.", who, until, n.Times, from, sentence(n.Text))
	}
	return who + " is well again",
		fmt.Sprintf("%s is well again since %s. It was not from %s on: %s. There is nothing to do.", who, until, from, sentence(n.Text))
}

// gather makes one letter of several; the newest may be cut off.
func (w Words) gather(all []Letter) Letter {
	const most = 20
	l := Letter{ID: all[0].ID, Kind: all[len(all)-1].Kind, At: all[len(all)-1].At, Title: fmt.Sprintf("%d messages from leavend", len(all))}
	lines := make([]string, 0, len(all))
	for i, one := range all {
		if i == most {
			lines = append(lines, fmt.Sprintf("And %d more; see the page.", len(all)-most))
			break
		}
		lines = append(lines, "- "+one.Text)
		l.Urgent = l.Urgent || one.Urgent
		if one.Link != "" {
			l.Link = one.Link
		}
	}
	l.Text = strings.Join(lines, "\n")
	return l
}

// seen is the line before the link that says that somebody came.
func (w Words) seen(link string) string { return "Tap when you have seen it: " + link }

// clock says a time of day, with the day where it is not today's.
func (w Words) clock(t, now time.Time) string {
	t, now = t.In(w.zone()), now.In(w.zone())
	layout := "15:04"
	if w.Hours12 {
		layout = "3:04 pm"
	}
	said := t.Format(layout)
	y, m, d := t.Date()
	day := time.Date(y, m, d, 12, 0, 0, 0, time.UTC)
	y, m, d = now.Date()
	switch days := int(math.Round(time.Date(y, m, d, 12, 0, 0, 0, time.UTC).Sub(day).Hours() / 24)); days {
	case 0:
		return said
	case 1:
		return said + " yesterday"
	case -1:
		return said + " tomorrow"
	}
	return said + t.Format(" on Mon 2 Jan")
}

// when says a past moment and how long ago that is.
func (w Words) when(t, now time.Time) string {
	hours := now.Sub(t).Hours()
	if hours < 48 {
		return fmt.Sprintf("at %s, %.0f hours ago", w.clock(t, now), hours)
	}
	return fmt.Sprintf("at %s, %.0f days ago", w.clock(t, now), math.Floor(hours/24))
}

// in says how far off something is, no finer than a forecast is worth.
func (w Words) in(d time.Duration) string {
	minutes := int(math.Round(d.Minutes()/5)) * 5
	switch {
	case minutes <= 0:
		return "any minute now"
	case minutes < 90:
		return fmt.Sprintf("in about %d minutes", minutes)
	}
	return fmt.Sprintf("in about %.1f hours", d.Hours())
}

func (w Words) between(n Notice, now time.Time) string {
	if n.Low.IsZero() || n.High.IsZero() {
		return ""
	}
	return fmt.Sprintf(" (likely between %s and %s)", w.clock(n.Low, now), w.clock(n.High, now))
}

// rise says how far it has come: as a ratio where that is known.
func (w Words) rise(n Notice) string {
	switch {
	case n.RiseRatio > 0:
		return fmt.Sprintf(", at %.1f times its height at the feed", n.RiseRatio)
	case n.RiseMM > 0 && w.US:
		return fmt.Sprintf(", up %.1f inches", n.RiseMM/25.4)
	case n.RiseMM > 0:
		return fmt.Sprintf(", up %.0f mm", n.RiseMM)
	}
	return ""
}

func (w Words) zone() *time.Location {
	if w.Zone == nil {
		return time.UTC
	}
	return w.Zone
}

// sentence prepares a text from elsewhere to stand inside one of ours: one
// line, no full stop at its end, of bounded length.
func sentence(s string) string {
	s = strings.TrimRight(strings.Join(strings.Fields(s), " "), ". ")
	if r := []rune(s); len(r) > 300 {
		s = string(r[:300]) + "..."
	}
	return s
}
