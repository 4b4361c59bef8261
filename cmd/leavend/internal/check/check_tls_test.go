package check

import (
	"fmt"
	"net"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/leavendtest"
)

// A real broker with TLS, and each way in which its certificate can be wrong.
func TestCheckBrokerTLS(t *testing.T) {
	ctx := t.Context()
	good, goodCA := leavendtest.SelfSigned(t, net.IPv4(127, 0, 0, 1))
	other, otherCA := leavendtest.SelfSigned(t, net.IPv4(192, 0, 2, 7))
	goodAt, otherAt := leavendtest.StartBroker(t, &good), leavendtest.StartBroker(t, &other)
	for _, tt := range []struct {
		name, url, ca string
		level         Level
		part          string
	}{
		{"trusted", "mqtts://" + goodAt, goodCA, Pass, "lets leavend in"},
		{"signed by a stranger", "mqtts://" + goodAt, otherCA, Fail, "mqtt.ca_file"},
		{"signed for another name", "mqtts://" + otherAt, otherCA, Fail, "for another name"},
		{"no such authority", "mqtts://" + goodAt, filepath.Join(t.TempDir(), "none.pem"), Fail, "ca_file"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			conf := configtest.Parse(t, fmt.Sprintf("[mqtt]\nurl = %q\nca_file = %q\nuser = \"baker\"\npassword = \"crumb\"", tt.url, tt.ca))
			got := CheckBroker(ctx, conf.MQTT, ThisBoard())
			if got.Level != tt.level || !strings.Contains(english(got.Says)+english(got.Do), tt.part) {
				t.Errorf("got %+v, want %s with %q", got, tt.level, tt.part)
			}
		})
	}
}
