package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/text"
)

// run executes one command line and returns what it printed and its code.
func runLine(t *testing.T, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	var out, errs bytes.Buffer
	code = Execute(context.Background(), args, &out, &errs)
	return out.String(), errs.String(), code
}

func TestConfigCommandPrintsTheReference(t *testing.T) {
	out, _, code := runLine(t, "config")
	if code != failure.Done || out != config.Reference() {
		t.Errorf("exit %d, %d bytes printed", code, len(out))
	}
}

func TestCheckExitCodes(t *testing.T) {
	dir := t.TempDir()
	quiet := "data_dir = \"" + dir + "\"\n[web]\non = false\n[metrics]\non = false\n[mqtt]\non = false\n"
	tests := []struct {
		name, text string
		code       int
		says       string
	}{
		{"nothing to watch", quiet, failure.Failed, "There is nothing to watch"},
		{"two mistakes", "clock = 13\nunits = \"imperial\"\n", failure.Usage, "2 things to repair"},
		{"a jar of the simulated kitchen", quiet + "[[sensor]]\nname = \"toy\"\nchip = \"kitchen\"\n[[vessel]]\nname = \"Bramble\"\ndistance = \"toy\"\ntemperature = \"toy\"\n", failure.Failed, "which only 'leavend demo' has"},
		{"a bus that is not there", quiet + "[[sensor]]\nname = \"eye\"\nchip = \"vl53l1x\"\nbus = 250\n", failure.Failed, "There is no /dev/i2c-250"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			file := configtest.Write(t, tt.text)
			out, errs, code := runLine(t, "check", "--config", file)
			if code != tt.code || !strings.Contains(out, tt.says) || errs != "" {
				t.Errorf("exit %d, want %d with %q; printed\n%s%s", code, tt.code, tt.says, out, errs)
			}
			out, _, code = runLine(t, "check", "--json", "--config", file)
			var report struct {
				OK      bool
				Results []struct{ Says string }
			}
			if err := json.Unmarshal([]byte(out), &report); err != nil || report.OK != (tt.code == failure.Done) || code != tt.code {
				t.Errorf("--json: exit %d, ok %v, %v", code, report.OK, err)
			}
		})
	}
	out, _, code := runLine(t, "check", "--config", filepath.Join(dir, "none.toml"))
	if code != failure.Usage || !strings.Contains(out, "leavend config >") {
		t.Errorf("missing file: exit %d, %s", code, out)
	}
}

// What is printed follows the terminal's language, what a program reads does not.
func TestCheckInTheTerminalsLanguage(t *testing.T) {
	t.Setenv("LC_ALL", "de_DE.UTF-8")
	file := configtest.Write(t, "clock = 13\n")
	if out, _, _ := runLine(t, "check", "-c", file); !strings.Contains(out, "1 Sache zu beheben.") {
		t.Errorf("printed in another language:\n%s", out)
	}
	if out, _, _ := runLine(t, "check", "--json", "-c", file); !strings.Contains(out, "Repair line 1 of") {
		t.Errorf("JSON in another language:\n%s", out)
	}
}

// A heater's cautions are said whenever one is configured.
func TestCheckSaysTheCautions(t *testing.T) {
	c := configtest.Parse(t, leavendtest.MatConfig)
	board := check.ThisBoard()
	board.Root = t.TempDir()
	var all string
	for _, r := range append(check.Explain(c), check.CheckMat(c, board)...) {
		all += r.Says.In(c.Reader()) + "\n"
	}
	for _, want := range []string{"probe steers it to 25.0 °C, within 0.3°", "stays off at 35.0 °C", "not a safety device", "thermal cut-out", "smoke alarm"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not said in:\n%s", want, all)
		}
	}
}

// A real broker turns us away for each reason it can have.
func TestCheckBroker(t *testing.T) {
	ctx, address := t.Context(), leavendtest.StartBroker(t, nil)
	board := check.ThisBoard()
	ask := func(url, password string) check.Result {
		return check.CheckBroker(ctx, configtest.Parse(t, fmt.Sprintf("[mqtt]\nurl = %q\nuser = \"baker\"\npassword = %q", url, password)).MQTT, board)
	}
	if got := ask("mqtt://"+address, "crumb"); got.Level != check.Pass {
		t.Errorf("right password: %+v", got)
	}
	if got := ask("mqtt://"+address, "crust"); got.Level != check.Fail || !strings.Contains(got.Says.In(text.Reader{}), "refuses the user or the password") {
		t.Errorf("wrong password: %+v", got)
	}
	if got := ask("mqtts://"+address, "crumb"); got.Level != check.Fail {
		t.Errorf("TLS to a broker without: %+v", got)
	}
	if got := ask("mqtt://127.0.0.1:1", "crumb"); !strings.Contains(got.Says.In(text.Reader{}), "Nothing listens") {
		t.Errorf("no broker: %+v", got)
	}
}
