package check

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
	"leavend/sensor"
)

func TestReadSome(t *testing.T) {
	lost := errors.New("no acknowledge")
	dead := &script{errs: []error{lost, lost, lost, lost, lost}}
	if values, errs := hardware.ReadSome(context.Background(), dead, 5); len(values) != 0 || len(errs) != 2 || dead.asked != 2 {
		t.Errorf("a dead sensor was asked %d times, want 2", dead.asked)
	}
	shaky := &script{values: []float64{21}, errs: []error{nil, lost, nil, lost, nil}}
	if values, errs := hardware.ReadSome(context.Background(), shaky, 5); len(values) != 3 || len(errs) != 2 {
		t.Errorf("a shaky sensor gave %v and %v, want three readings and two errors", values, errs)
	}
}

// No mat is tested unless its thermometer answers, and is well below its
// cutoff.
func TestMayHeat(t *testing.T) {
	c := configtest.Parse(t, leavendtest.MatConfig)
	lost := errors.New("checksum is wrong")
	for _, tt := range []struct {
		name   string
		source *script
		why    string
	}{
		{"a good probe", &script{values: []float64{21}}, ""},
		{"a dead probe", &script{errs: []error{lost, lost}}, "does not answer"},
		{"a probe that fails at times", &script{values: []float64{21}, errs: []error{nil, lost, nil}}, "does not answer"},
		{"a jar near its cutoff", &script{values: []float64{33.5}}, "reads 33.5 °C"},
		{"a frozen probe", &script{values: []float64{-3}}, "reads -3.0 °C"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			open := func(s config.Sensor) ([]hardware.Channel, error) {
				return []hardware.Channel{{Sensor: s, Quantity: sensor.Temperature, Source: tt.source}}, nil
			}
			got := english(mayHeat(context.Background(), c, open))
			if tt.why == "" && got != "" || !strings.Contains(got, tt.why) {
				t.Errorf("got %q, want %q", got, tt.why)
			}
		})
	}
}

// relay is an output that keeps a diary.
type relay struct {
	diary  []string
	onErr  error
	offErr error
}

func (r *relay) On(_ context.Context, lease time.Duration) error {
	r.diary = append(r.diary, "on for at most "+lease.String())
	return r.onErr
}
func (r *relay) Off(ctx context.Context) error {
	if ctx.Err() != nil {
		r.diary = append(r.diary, "off with a dead context")
		return ctx.Err()
	}
	r.diary = append(r.diary, "off")
	return r.offErr
}
func (r *relay) String() string { return "the relay" }

var _ control.Output = (*relay)(nil)

func TestTryMat(t *testing.T) {
	broken := errors.New("broken")
	for _, tt := range []struct {
		name   string
		relay  *relay
		cancel bool
		level  Level
		says   string
	}{
		{"as it should", &relay{}, false, Pass, "was on for 5 s and is off again"},
		{"Ctrl-C", &relay{}, true, Fail, "the mat is off"},
		{"no on", &relay{onErr: broken}, false, Fail, "could not be switched on"},
		{"no off", &relay{offErr: broken}, false, Fail, "could not be switched off"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, cancel := context.WithCancel(context.Background())
				defer cancel()
				if tt.cancel {
					time.AfterFunc(time.Second, cancel)
				}
				got := tryMat(ctx, tt.relay, matTestTime)
				if got.Level != tt.level || !strings.Contains(english(got.Says), tt.says) {
					t.Errorf("got %+v, want %s with %q", got, tt.level, tt.says)
				}
				if d := tt.relay.diary; d[0] != "on for at most 7s" || d[len(d)-1] != "off" {
					t.Errorf("the relay was told %q", d)
				}
			})
		})
	}
}

func TestConsent(t *testing.T) {
	for answer, want := range map[string]bool{"yes\n": true, "yes": true, "y\n": false, "\n": false, "": false, "no\nyes\n": false} {
		var said strings.Builder
		if got := Consent(t.Context(), strings.NewReader(answer), &said, text.Reader{}) == nil; got != want {
			t.Errorf("the answer %q is taken for %v", answer, got)
		}
		if !strings.Contains(said.String(), "not a safety device") {
			t.Error("the cautions are not said before the question")
		}
	}
	var said strings.Builder
	_ = Consent(t.Context(), strings.NewReader(""), &said, text.Reader{Language: "de"})
	if !strings.Contains(said.String(), "keine Sicherheitseinrichtung") || strings.Contains(said.String(), "safety") {
		t.Errorf("a German reader is asked\n%s", said.String())
	}
}

// A real file below a fake /sys is read five times by the real driver.
func TestCheckSensorsReadsAProbe(t *testing.T) {
	dir := t.TempDir()
	probe := filepath.Join(dir, "28-0000000000a1")
	if err := os.Mkdir(probe, 0o755); err != nil {
		t.Fatal(err)
	}
	// The scratchpad of the data sheet's +25.0625 °C, with its checksum.
	text := "91 01 4b 46 7f ff 0c 10 70 : crc=70 YES\n91 01 4b 46 7f ff 0c 10 70 t=25062\n"
	configtest.WriteFile(t, filepath.Join(probe, "w1_slave"), text)
	c := configtest.Parse(t, "[[sensor]]\nname = \"probe\"\nchip = \"ds18b20\"\nid = \"28-0000000000a1\"\npath = \""+dir+"\"\n")
	bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
	got := checkSensors(context.Background(), c, &Report{}, bench.Open)
	if len(got) != 1 || got[0].Level != Pass || !strings.Contains(english(got[0].Says), "Temperature 25.06 °C, with a noise of 0.00° (standard deviation of 5 readings)") {
		t.Errorf("got %+v", got)
	}
	// A bus that failed is not read again.
	var before Report
	before.Add(Result{Topic: "1-wire", Level: Fail})
	if got := checkSensors(context.Background(), c, &before, bench.Open); len(got) != 0 {
		t.Errorf("a failed bus was read: %+v", got)
	}
}
