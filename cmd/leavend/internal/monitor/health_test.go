package monitor

import (
	"errors"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
)

// TestSilenceIsBorne tells of a ranger only when it has been silent for longer
// than a jar is usually away, and of a thermometer sooner.
func TestSilenceIsBorne(t *testing.T) {
	for _, c := range []struct {
		of     sensor.Quantity
		silent time.Duration
		told   bool
	}{
		{sensor.Distance, 4 * time.Minute, false},
		{sensor.Distance, 6 * time.Minute, true},
		{sensor.Temperature, 40 * time.Second, false},
		{sensor.Temperature, 2 * time.Minute, true},
	} {
		h := newHealth(event.NewAlarms(text.Reader{}, new(Hub).Event))
		k, start := hardware.ChannelKey{Sensor: "eye", Quantity: c.of}, time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC)
		say := func(error) event.AlarmText { return event.AlarmText{Say: text.Say("alarm.sensor.silent")} }
		h.Record(start, k, "bramble", sensor.Reading{Quantity: c.of, Value: 20, At: start}, nil, say)
		now := start
		for d := 10 * time.Second; d <= c.silent; d += 10 * time.Second {
			now = start.Add(d)
			h.Record(now, k, "bramble", sensor.Reading{}, errors.New("nothing"), say)
		}
		if told := len(h.alarms.Active()) == 1; told != c.told || h.Answers(k) {
			t.Errorf("%v silent for %v: told %v, answers %v", c.of, c.silent, told, h.Answers(k))
		}
		h.Record(now.Add(10*time.Second), k, "bramble", sensor.Reading{Quantity: c.of, Value: 20, At: now}, nil, say)
		if len(h.alarms.Active()) != 0 {
			t.Errorf("%v: it answers again, and the fault stands", c.of)
		}
	}
}
