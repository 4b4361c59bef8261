package event

import (
	"time"

	"leavend/peak"
)

// Kind names what happened. The first are the words of the replay contract;
// the others are the daemon's own. All of them are stored and go out by MQTT,
// so a word never changes.
type Kind string

// The kinds of event.
const (
	Fed          Kind = "fed"
	Forecast     Kind = "forecast" // kept for scoring; it is no news
	Peak         Kind = "peak"
	Target       Kind = "target"
	Over         Kind = "over"    // dough has risen more than it should
	Past         Kind = "past"    // and is past its best
	Falling      Kind = "falling" // a jar is past its peak
	Collapse     Kind = "collapse"
	Folded       Kind = "folded" // a bowl's dough was stretched and folded
	AlarmRaised  Kind = "fault"
	AlarmCleared Kind = "cleared"
)

// Kinds returns every kind that is news, for counters that start at zero.
func Kinds() []Kind {
	return []Kind{Fed, Peak, Target, Over, Past, Falling, Collapse, Folded, AlarmRaised, AlarmCleared}
}

// Event is one thing that happened.
type Event struct {
	Kind     Kind
	Subject  string // a vessel's slug, or one of the subjects below
	At       time.Time
	Text     string     // for the baker
	Detail   string     // of an alarm, for whoever repairs it; may be empty
	Alarm    AlarmKey   // of AlarmRaised and AlarmCleared
	Detected peak.Event // what the detector said, of the other kinds
	Past     bool       // it lies in a time when the daemon was off, and is told late
}

// Ahead is how far ahead of now something may be dated: as much as the clock of
// a phone may differ from the board's. What is dated later is refused.
const Ahead = 5 * time.Minute

// The subjects that are no vessel. Both are stored with events.
const (
	SubjectMat    = "mat"
	SubjectDaemon = "house" // the daemon itself: its storage, settings and connections
)
