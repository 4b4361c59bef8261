package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/control"
)

// A plug on the broker inside leavend finds it some seconds after the start.
// No message says to pull the plug meanwhile, and the output is unknown until
// the plug has said that it is off.
func TestPlugStartsLate(t *testing.T) {
	t.Parallel()
	dir, address := t.TempDir(), freeport.Address(t)
	conf := configtest.Parse(t, fmt.Sprintf(`data_dir = %q
[[sensor]]
name = "crumb"
chip = "topic"
quantity = "temperature"
place = "vessel"
topic = "far/probe"
[mat]
output = "plug"
probe = "crumb"
[mat.plug]
recipe = "tasmota"
topic = "mat"
[mqtt]
listen = %q
discovery = false
[web]
on = false
[metrics]
on = false
`, dir, address))
	d, err := New(t.Context(), conf, slog.New(slog.DiscardHandler), Parts{Note: filepath.Join(dir, "mat.json")})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	defer func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	quiet := func(span time.Duration) {
		t.Helper()
		for end := time.Now().Add(span); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
			for _, a := range d.Alarms.Of(event.SubjectMat) {
				if a.Key.Reason == event.Reason(control.FaultOutput) {
					t.Fatalf("told %v after the start, since %v: %s", time.Since(d.startedReal), a.Since, a.Say.Key)
				}
			}
		}
	}
	quiet(4 * time.Second)
	if s := d.Mat.State(); s.Output != control.OutputUnknown || s.Reason != control.ReasonStarting && s.Reason != control.ReasonMode {
		t.Errorf("before the plug has spoken the output is %s, because %s", s.Output, s.Reason)
	}
	leavendtest.ConnectPlug(t, address)
	leavendtest.Eventually(t, "the plug has said that it is off", func() bool { return d.Mat.State().Output == control.OutputOff })
	quiet(2 * time.Second)
}
