package check

import (
	"bytes"
	"context"
	"math"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/sht"
	"leavend/sensor/sht/shttest"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl53l1x/vl53l1xtest"
)

// recordedTable names things that the file must not hold.
const recordedTable = `
[[sensor]]
name = "grandmas-eye"
chip = "vl53l1x"
[[sensor]]
name = "pantry"
chip = "sht3x"
[[sensor]]
name = "far"
chip = "topic"
topic = "private/probe"
quantity = "temperature"
[mqtt]
on = true
url = "mqtt://example.net:1883"
user = "grandma"
password = "rye"
`

// softWires is an emulated bus that can be closed.
type softWires struct{ *bustest.Bus }

func (softWires) Close() error { return nil }

// TestRecordBus records two emulated chips for a minute, finds no name in the
// file, and plays it back: the drivers make the same readings of it.
func TestRecordBus(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		wires := bustest.New("I2C1",
			vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 141, SigmaMM: 2, SignalMcps: 12, Raw: 9}), shttest.New(false, 0x44, 21.5, 50))
		time.Sleep(5 * time.Millisecond) // they boot
		r := &busRecorder{
			board: Board{Root: t.TempDir()}, bench: &hardware.Registry{Clock: event.NewClock(time.Now(), 1)},
			open: func(int) (i2c.BusCloser, error) { return softWires{wires}, nil },
		}
		var file bytes.Buffer
		if err := r.record(t.Context(), configtest.Parse(t, recordedTable), &file); err != nil {
			t.Fatal(err)
		}
		text := file.String()
		for _, secret := range []string{"grandma", "pantry", "private", "example.net", "rye"} {
			if strings.Contains(text, secret) {
				t.Errorf("the file holds %q", secret)
			}
		}
		for _, want := range []string{"found on bus 1: 0x29 vl53l1x", "found on bus 1: 0x44 sht3x", "sensor 1 is a vl53l1x bus=1 address=0x29", "budget=100ms", "I2C1 0x29 w 0120 r "} {
			if !strings.Contains(text, want) {
				t.Errorf("the file lacks %q:\n%.2000s", want, text)
			}
		}
		if n := len(regexp.MustCompile(`(?m)reading of sensor 1: distance 141 `).FindAllString(text, -1)); n < 45 || n > 61 {
			t.Errorf("%d readings of the ranger in a minute", n)
		}

		played, err := bustest.Play(&file, "I2C1")
		if err != nil {
			t.Fatal(err)
		}
		eye, err := vl53l1x.New(played, 0x29, vl53l1x.Opts{})
		if err != nil {
			t.Fatal(err)
		}
		room := sht.New(played, 0x44, sht.SHT3x)
		for n := range 10 {
			mm, err := eye.Read(context.Background())
			if err != nil || mm.Value != 141 {
				t.Fatalf("reading %d, played back: %v, %v", n, mm.Value, err)
			}
			temp, err := room.Temperature().Read(context.Background())
			if err != nil || math.Abs(temp.Value-21.5) > 0.01 {
				t.Fatalf("reading %d, played back: %v, %v", n, temp.Value, err)
			}
			if _, err := room.Humidity().Read(context.Background()); err != nil {
				t.Fatal(err)
			}
			time.Sleep(2 * time.Second)
		}
		if played.Left() == 0 {
			t.Error("nothing is left of a minute")
		}
	})
}
