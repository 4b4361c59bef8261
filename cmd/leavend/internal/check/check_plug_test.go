package check

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// TestCheckPlug tests a mat on a plug through the broker inside leavend: a plug
// that answers, and one whose answers are lost, which is never switched on.
func TestCheckPlug(t *testing.T) {
	dir, address := t.TempDir(), freeport.Address(t)
	c := configtest.Parse(t, fmt.Sprintf(`data_dir = %q
[[sensor]]
name = "probe"
chip = "ds18b20"
[mat]
output = "plug"
probe = "probe"
[mat.plug]
recipe = "tasmota"
topic = "mat"
[mqtt]
listen = %q
discovery = false
`, dir, address))
	fake := leavendtest.ConnectPlug(t, address)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	note := filepath.Join(dir, "mat.json")
	r := testPlug(ctx, c, note, 300*time.Millisecond)
	if r.Level != Pass || !strings.Contains(english(r.Says), "is off again") {
		t.Errorf("%+v", r)
	}
	if !fake.WasOn() || fake.IsOn() {
		t.Error("the plug was not on, or is not off")
	}
	if n, err := heating.ReadNote(note); err != nil || n.Plug == nil {
		t.Errorf("there is no note for 'leavend mat off': %v", err)
	}

	fake.LoseEchoes(1000)
	short, cancelShort := context.WithTimeout(ctx, 2*time.Second)
	defer cancelShort()
	if r := testPlug(short, c, note, 300*time.Millisecond); r.Level != Fail || !strings.Contains(english(r.Says), "was not switched on") || fake.IsOn() {
		t.Errorf("a plug that does not answer: %+v, on %v", r, fake.IsOn())
	}
}
