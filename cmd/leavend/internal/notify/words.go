package notify

import (
	"math"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// Renderer puts notices into a reader's language, units and clock. The sentences
// stand in the catalogue, under "message". The zero value writes English and
// metric, on a 24-hour clock, in UTC.
type Renderer struct{ text.Reader }

// Message is a message in words.
type Message struct {
	ID     string // the same when it is sent twice
	Kind   Kind
	Vessel string
	At     time.Time // what it is about
	Title  string    // one short line
	Text   string    // one or more sentences
	Link   string    // to acknowledge the message; may be empty
	Urgent bool
}

// longAgo is when a peak is told as one that was. A jar stands at its peak for
// an hour or two (common practice).
const longAgo = time.Hour

// Render puts a notice into words as they are true at now.
func (w Renderer) Render(n Notice, now time.Time) Message {
	w.Now = now
	title, body := n.message(now)
	for _, also := range n.Also {
		_, more := also.message(now)
		body = text.Sentences(body, more)
	}
	l := Message{Kind: n.Kind, Vessel: n.Vessel, At: n.At, Urgent: urgent(n.Kind), Title: title.In(w.Reader), Text: body.In(w.Reader)}
	if n.Repeat > 0 {
		l.Title = text.Say("message.again", text.Name("title", l.Title)).In(w.Reader)
	}
	return l
}

// texts is a title with its text.
func (n Notice) texts(title, body string, more ...text.Arg) (text.Message, text.Message) {
	args := append([]text.Arg{
		text.Name("name", n.Name), text.Time("at", n.At), text.Time("until", n.Until), text.Name("text", oneLine(n.Text)),
		text.Length("left", n.LeftMM), text.Temp("temp", n.TempC), text.Sub("rise", n.rise()), text.Sub("range", n.interval()), text.Count("n", n.Count), text.Count("life", n.Life),
	}, more...)
	return text.Say("message."+title, args...), text.Say("message."+body, args...)
}

// message chooses the sentences of a notice.
func (n Notice) message(now time.Time) (title, body text.Message) {
	late := now.Sub(n.At) > longAgo
	switch n.Kind {
	case HeadsUp:
		return n.headsUp(now)
	case OnTop:
		n.Until = n.At.Add(plan.UsefulFor)
		switch {
		case late:
			return n.texts("peak.late_title", "peak.late")
		case n.Step != "":
			return n.texts("peak.title", "peak.next")
		case n.At.After(now):
			return n.texts("peak.title", "peak.ahead")
		}
		return n.texts("peak.title", "peak.text")
	case Falling:
		return n.texts("falling.title", "falling.text")
	case TargetSoon:
		return n.texts("target_soon.title", "target_soon.text")
	case AtTarget:
		switch {
		case n.Past:
			return n.texts("past.title", "past.text")
		case n.Over:
			return n.texts("over.title", "over.text")
		case late:
			return n.texts("target.late_title", "target.late")
		}
		if n.Step != "" {
			return n.texts("target.title", "target.next")
		}
		return n.texts("target.title", "target.text")
	case FeedDue:
		switch {
		case n.Back && n.Count == 0:
			return n.texts("feed_due.back_title", "feed_due.back")
		case n.Back:
			return n.texts("feed_due.back_title", "feed_due.back_wake")
		case n.Late:
			return n.texts("feed_due.late_title", "feed_due.late")
		case n.Cold:
			return n.texts("feed_due.cold_title", "feed_due.cold")
		}
		return n.texts("feed_due.title", "feed_due.text")
	case NearRim:
		if n.Late {
			return n.texts("rim.title", "rim.over")
		}
		return n.texts("rim.title", "rim.text")
	case CleanJar:
		return n.texts("clean_jar.title", "clean_jar.text")
	case DiscardOld:
		return n.texts("discard_old.title", "discard_old.text")
	case FridgeCheck:
		if n.Cold {
			return n.texts("fridge_check.title", "fridge_check.outside")
		}
		return n.texts("fridge_check.title", "fridge_check.inside")
	case Worn:
		return n.texts("worn.title", "worn.text")
	case PlanStep:
		return n.planStep()
	case MatFault:
		return n.texts("mat_fault.title", "mat_fault.text")
	case SensorFault:
		return n.texts("sensor_fault.title", "sensor_fault.text")
	case Storage:
		return n.texts("storage.title", "storage.text")
	case Normal:
		return n.normal()
	}
	return n.texts("test.title", "test.text")
}

// planStep says what to do next for the bread.
func (n Notice) planStep() (title, body text.Message) {
	switch {
	case n.ReadyBy:
		return n.texts("not_ready.title", "not_ready.text")
	case n.Step == "":
		return n.texts("plan_fails.title", "plan_fails.text")
	case n.Ahead:
		return n.texts("step.ahead_title", "step.ahead", text.Sub("step", text.Stage(n.Step)))
	case n.Until.After(n.At.Add(10 * time.Minute)):
		return n.texts("step.title", "step.waits", text.Sub("step", text.Stage(n.Step)))
	}
	return n.texts("step.title", "step.text", text.Sub("step", text.Stage(n.Step)))
}

func (n Notice) headsUp(now time.Time) (title, body text.Message) {
	of := ".jar"
	if n.Bowl {
		of = ".bowl"
	}
	title, body = n.texts("soon.title"+of, "soon.text"+of)
	switch {
	case n.PreviousAt.IsZero():
		return title, body
	case n.At.After(n.PreviousAt):
		return title, text.Say("message.later", text.Time("told", n.PreviousAt), text.Sub("text", body))
	}
	return title, text.Say("message.sooner", text.Time("told", n.PreviousAt), text.Sub("text", body))
}

// normal says that a fault is over, or sums up one that comes and goes.
func (n Notice) normal() (title, body text.Message) {
	who := text.Say("message.who.sensor", text.Name("name", n.Name))
	switch n.Fault {
	case MatFault:
		who = text.Say("message.who.mat")
	case Storage:
		who = text.Say("message.who.storage")
	}
	args := []text.Arg{text.Sub("who", who), text.Count("n", n.Times)}
	switch {
	case n.Stays:
		return n.texts("flapping.title", "flapping.text", args...)
	case n.Times > 1:
		return n.texts("cleared.title", "cleared.often", args...)
	}
	return n.texts("cleared.title", "cleared.text", args...)
}

// interval is the time between which a forecast lies, where it is known.
func (n Notice) interval() text.Message {
	if n.Low.IsZero() || n.High.IsZero() {
		return text.Message{}
	}
	return text.Say("message.range", text.Time("low", n.Low), text.Time("high", n.High))
}

// rise says how far it has come: as a ratio where that is known.
func (n Notice) rise() text.Message {
	switch {
	case n.RiseRatio > 0 && !math.IsInf(n.RiseRatio, 0):
		return text.Say("message.rise_ratio", text.Ratio("ratio", n.RiseRatio))
	case n.RiseMM > 0:
		return text.Say("message.rise_mm", text.Length("mm", n.RiseMM))
	}
	return text.Message{}
}

// merge makes one message of several; the newest may be cut off.
func (w Renderer) merge(all []Message) Message {
	const most = 20
	l := Message{ID: all[0].ID, Kind: all[len(all)-1].Kind, At: all[len(all)-1].At, Title: text.Say("message.gathered", text.Count("n", len(all))).In(w.Reader)}
	lines := make([]string, 0, len(all))
	for i, one := range all {
		if i == most {
			lines = append(lines, text.Say("message.more", text.Count("n", len(all)-most)).In(w.Reader))
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

// ackLine is the line before the link that acknowledges the message.
func (w Renderer) ackLine(link string) string {
	return text.Say("message.seen", text.Name("link", link)).In(w.Reader)
}

func (w Renderer) zone() *time.Location {
	if w.Zone == nil {
		return time.UTC
	}
	return w.Zone
}

// oneLine prepares a text from elsewhere to stand inside one of ours: one line,
// no full stop at its end, of bounded length.
func oneLine(s string) string {
	s = strings.TrimRight(strings.Join(strings.Fields(s), " "), ". ")
	if r := []rune(s); len(r) > 300 {
		s = string(r[:300]) + "..."
	}
	return s
}
