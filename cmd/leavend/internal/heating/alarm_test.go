package heating

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/sensor"
	"leavend/sensor/bus"
	"leavend/sensor/ntc"
	"leavend/sensor/topic"
)

// alarmHeater has a sensor in every place.
func alarmHeater(t *testing.T) *Heater {
	t.Helper()
	var b strings.Builder
	for i, name := range []string{"probe", "pad", "air", "spare"} {
		fmt.Fprintf(&b, "[[sensor]]\nname = %q\nchip = \"ds18b20\"\nid = \"28-00000000000%d\"\n", name, i)
	}
	b.WriteString("[[sensor]]\nname = \"eye\"\nchip = \"vl53l1x\"\n")
	b.WriteString("[[vessel]]\nname = \"Bramble\"\ndistance = \"eye\"\ntemperature = \"probe\"\n")
	b.WriteString("[mat]\noutput = \"gpio\"\nline = 17\nvessel = \"Bramble\"\nprobe = \"probe\"\nmat_probe = \"pad\"\nroom_probe = \"air\"\n")
	file := strings.NewReplacer("name = \"pad\"\n", "name = \"pad\"\nplace = \"mat\"\n", "name = \"air\"\n", "name = \"air\"\nplace = \"room\"\n").Replace(b.String())
	conf := configtest.Parse(t, file)
	w, err := NewMat(conf, &control.Dry{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return &Heater{Mat: w, conf: conf}
}

// alarmOf is the alarm of a sensor in the config.
func (h *Heater) alarmOf(name string, q sensor.Quantity, err error) event.AlarmText {
	s, _ := h.conf.Sensor(name)
	w := hardware.Channel{Sensor: s, Quantity: q}
	return monitor.SensorAlarm(h.conf, w, h.PlaceOf(s), h.Needs(w), err)
}

// TestAlarmTexts holds what the baker is told of each fault to a file, and
// sees that none of it is a matter for a data sheet.
func TestAlarmTexts(t *testing.T) {
	d := alarmHeater(t)
	chip := func(err error) error { return fmt.Errorf("vl53l1x I2C1 0x29: measure: %w", err) }
	var got strings.Builder
	say := func(head string, c event.AlarmText) {
		fmt.Fprintf(&got, "%s\n", head)
		for _, language := range text.Languages() {
			r := text.Reader{Language: language}
			says, over := c.Say.In(r), c.Over.In(r)
			fmt.Fprintf(&got, "  says   %s\n  over   %s\n", says, over)
			if m := regexp.MustCompile(`(?i)0x|i2c|status|sigma|vl53|ds18b20|%!|errno|\bnil\b|alarm\.|fault\.|–`).FindString(says + over); m != "" {
				t.Errorf("%s: the baker reads %q: %s %s", head, m, says, over)
			}
		}
		fmt.Fprintf(&got, "  detail %s\n\n", c.Detail)
	}
	for _, err := range []error{
		bus.ErrNoAck, bus.ErrStuck, bus.ErrNoise, bus.ErrStale, bus.ErrOther,
		&sensor.Refused{Reading: sensor.Reading{Quantity: sensor.Distance, Value: 212}, Reason: "status 1: sigma"},
		topic.ErrCoarse, sensor.ErrHung, context.DeadlineExceeded, errors.New("something new"),
	} {
		say("the ranger: "+err.Error(), d.alarmOf("eye", sensor.Distance, chip(err)))
	}
	for _, err := range []error{
		errors.New("the kernel does not see it: unplugged, or a wire is broken"), topic.ErrOld, fs.ErrPermission, ntc.ErrOpen,
		&sensor.Refused{Reading: sensor.Reading{Quantity: sensor.Temperature, Value: 127}, Reason: "outside"},
	} {
		say("the probe: "+err.Error(), d.alarmOf("probe", sensor.Temperature, fmt.Errorf("ds18b20 w1 28-0: read: %w", err)))
	}
	for _, name := range []string{"pad", "air", "spare"} {
		say(name, d.alarmOf(name, sensor.Temperature, errors.New("gone")))
	}
	for _, k := range control.FaultKinds() {
		say("the mat: "+string(k), FaultAlarm(control.Fault{Kind: k, Detail: "gpiochip0 line 17: input/output error"}))
	}
	file := filepath.Join("testdata", "alarms.txt")
	golden.Compare(t, file, got.String())
}
