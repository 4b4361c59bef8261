package event

import (
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Reason says what is wrong. Beside those below there are the faults of the
// mat, which package control names.
type Reason string

// The reasons of an alarm that are not the mat's. They are stored and are
// labels of metrics.
const (
	NoReading       Reason = "sensor"      // a sensor does not answer
	UnclearCurve    Reason = "curve"       // the detector cannot make sense of the readings
	StorageFailing  Reason = "storage"     // readings cannot be kept
	MatNotAllowed   Reason = "not-allowed" // the mat waits for a person to let it heat
	SettingsUndone  Reason = "settings"    // a change of the config was taken back
	BrokerUnreached Reason = "broker"      // there is no connection to the MQTT broker
	PartMissing     Reason = "part"        // the page, the metrics or a port of the broker cannot be had
)

// Reasons returns the reasons that are not the mat's.
func Reasons() []Reason {
	return []Reason{NoReading, UnclearCurve, StorageFailing, BrokerUnreached, PartMissing, SettingsUndone, MatNotAllowed}
}

// AlarmKey names an alarm: whom it is about, what is wrong, and which part is
// to blame where there are several.
type AlarmKey struct {
	Subject string
	Reason  Reason
	Part    string
}

// AlarmText is what an alarm says.
type AlarmText struct {
	Say    text.Message // for the baker: what is wrong and what to do
	Detail string       // chip, bus and address, for the log and the set-up page; may be empty
	Over   text.Message // for the baker, once it is over; zero for a sentence made of Say
}

// Alarm is one that has not cleared.
type Alarm struct {
	Key   AlarmKey
	Since time.Time
	AlarmText
}

// Alarms keeps what is wrong at this moment, and tells when an alarm is raised
// and when it clears, once each.
type Alarms struct {
	tell   func(Event)
	reader text.Reader

	mu     sync.Mutex // guards active
	active map[AlarmKey]Alarm
}

// NewAlarms returns an empty set that passes its events to tell, in the words of a
// reader.
func NewAlarms(reader text.Reader, tell func(Event)) *Alarms {
	return &Alarms{tell: tell, reader: reader, active: map[AlarmKey]Alarm{}}
}

// Raise says that something is wrong. Only the first call tells it.
func (a *Alarms) Raise(now time.Time, key AlarmKey, t AlarmText) {
	a.mu.Lock()
	_, known := a.active[key]
	if !known {
		a.active[key] = Alarm{Key: key, Since: now, AlarmText: t}
	}
	a.mu.Unlock()
	if !known {
		a.tell(Event{Kind: AlarmRaised, Subject: key.Subject, At: now, Text: t.Say.In(a.reader), Detail: t.Detail, Alarm: key})
	}
}

// Clear says that something is not wrong. Only the end of an alarm is told.
func (a *Alarms) Clear(now time.Time, key AlarmKey) {
	a.mu.Lock()
	was, known := a.active[key]
	delete(a.active, key)
	a.mu.Unlock()
	if !known {
		return
	}
	if was.Over.IsZero() {
		was.Over = text.Say("alarm.over", text.Sub("text", was.Say))
	}
	a.tell(Event{Kind: AlarmCleared, Subject: key.Subject, At: now, Text: was.Over.In(a.reader), Detail: was.Detail, Alarm: key})
}

// Active returns what is wrong now, oldest first.
func (a *Alarms) Active() []Alarm {
	a.mu.Lock()
	defer a.mu.Unlock()
	all := make([]Alarm, 0, len(a.active))
	for _, one := range a.active {
		all = append(all, one)
	}
	slices.SortFunc(all, func(x, y Alarm) int { return x.Since.Compare(y.Since) })
	return all
}

// Of returns what is wrong with one subject, oldest first.
func (a *Alarms) Of(subject string) []Alarm {
	return slices.DeleteFunc(a.Active(), func(one Alarm) bool { return one.Key.Subject != subject })
}
