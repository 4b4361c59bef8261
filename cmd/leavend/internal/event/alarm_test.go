package event

import (
	"testing"
	"time"

	"leavend/cmd/leavend/internal/text"
)

func TestAlarmsTellEachChangeOnce(t *testing.T) {
	var told []Event
	a := NewAlarms(text.Reader{}, func(e Event) { told = append(told, e) })
	now := time.Date(2026, 11, 28, 22, 0, 0, 0, time.UTC)
	bramble := AlarmKey{Subject: "bramble", Reason: NoReading, Part: "eye/distance"}
	full := AlarmKey{Subject: SubjectDaemon, Reason: StorageFailing}
	for i := range 3 {
		a.Raise(now.Add(time.Duration(i)*time.Minute), bramble, AlarmText{Say: text.Say("alarm.storage.failing"), Over: text.Say("alarm.storage.over")})
	}
	a.Raise(now.Add(time.Hour), full, AlarmText{Say: text.Say("alarm.storage.curve", text.Name("name", "Bramble"))})
	if got := a.Of("bramble"); len(got) != 1 || !got[0].Since.Equal(now) {
		t.Errorf("active of bramble: %+v", got)
	}
	if got := a.Active(); len(got) != 2 || got[0].Key != bramble {
		t.Errorf("active, oldest first: %+v", got)
	}
	a.Clear(now.Add(2*time.Hour), bramble)
	a.Clear(now.Add(2*time.Hour), bramble)
	a.Clear(now.Add(2*time.Hour), full)
	want := []struct {
		kind Kind
		text string
	}{
		{AlarmRaised, text.Say("alarm.storage.failing").In(text.Reader{})}, {AlarmRaised, "The curve of Bramble so far cannot be read; it begins again."},
		{AlarmCleared, "Readings are saved again."}, {AlarmCleared, "Over: The curve of Bramble so far cannot be read; it begins again."},
	}
	if len(told) != len(want) {
		t.Fatalf("told %+v", told)
	}
	for i, w := range want {
		if told[i].Kind != w.kind || told[i].Text != w.text {
			t.Errorf("event %d: got %s %q, want %s %q", i, told[i].Kind, told[i].Text, w.kind, w.text)
		}
	}
}
