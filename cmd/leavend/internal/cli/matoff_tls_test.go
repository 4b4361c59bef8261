package cli

import (
	"bytes"
	"fmt"
	"net"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/leavendtest"
)

// The note that the daemon leaves is enough for mat off, also where the broker
// is trusted by a file of our own, and where its address has no port.
func TestMatOffByTheDaemonsNote(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	pair, ca := leavendtest.SelfSigned(t, net.IPv4(127, 0, 0, 1))
	address := leavendtest.StartBroker(t, &pair)
	dir := t.TempDir()
	configtest.WriteFile(t, filepath.Join(dir, "password"), "crumb\n")
	note := filepath.Join(dir, "mat.json")
	conf := configtest.Parse(t, fmt.Sprintf(`[[sensor]]
name = "crumb"
chip = "sht4x"
place = "vessel"
[mat]
output = "plug"
probe = "crumb"
[mat.plug]
recipe = "tasmota"
topic = "oven"
[mqtt]
url = "mqtts://%s"
user = "baker"
password_file = %q
ca_file = %q
`, address, filepath.Join(dir, "password"), ca))
	if _, err := heating.OpenOutput(conf, note, nil); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if code := Execute(ctx, []string{"mat", "off", "--state", note}, &out, &out); code != failure.Failed || !strings.Contains(out.String(), "was told to be off, but does not say that it is") {
		t.Errorf("exit %d: %s", code, out.String())
	}

	conf.MQTT.URL, conf.MQTT.CAFile = "mqtt://192.0.2.7", ""
	if _, err := heating.OpenOutput(conf, note, nil); err != nil {
		t.Fatal(err)
	}
	if s, err := heating.ReadNote(note); err != nil || s.Plug.Broker != "mqtt://192.0.2.7:1883" {
		t.Errorf("the note names the broker %q, %v", s.Plug.Broker, err)
	}
}
