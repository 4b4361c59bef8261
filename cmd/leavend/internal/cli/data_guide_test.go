package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/leavendtest"
)

// TestDataGuide runs what the guide to data says, copied from the guide, against
// the demo: the commands of curl, both Python programs, and the hub's REST
// sensor, whose templates Jinja reads as the hub does. It takes Debian's
// python3-pandas, python3-yaml and python3-jinja2.
func TestDataGuide(t *testing.T) {
	t.Parallel()
	python := python3(t, "pandas", "yaml", "jinja2")
	leavendtest.RealPeer(t, "curl", "curl")
	page := demoPage(t)
	token := demoToken(t, page)
	text, err := os.ReadFile("../../../../deploy/guide/data.md")
	if err != nil {
		t.Fatal(err)
	}
	guide := strings.NewReplacer("http://kitchen.local:8420", page, "TOKEN", token).Replace(string(text))
	run := func(what string, cmd *exec.Cmd) string {
		t.Helper()
		cmd.Dir = t.TempDir()
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", what, err, out)
		}
		files, _ := filepath.Glob(filepath.Join(cmd.Dir, "*"))
		for _, f := range files {
			b, _ := os.ReadFile(f)
			out = append(out, b...)
		}
		return string(out)
	}
	curls := regexp.MustCompile(`(?m)^    (curl .*)$`).FindAllStringSubmatch(guide, -1)
	wants := []string{"time,distance_mm,temperature_c,note", "time,vessel,quantity,value,mean_of\n", `"format": "leavend journal 1"`, "leavend,vessel=bramble "}
	if len(curls) != len(wants) {
		t.Fatalf("%d commands, want %d", len(curls), len(wants))
	}
	for i, c := range curls {
		command := strings.Replace(c[1], "curl", "curl --fail --silent --show-error", 1)
		if got := run(c[1], exec.Command("sh", "-c", command)); !strings.Contains(got, wants[i]) {
			t.Errorf("%s: %.300s", c[1], got)
		}
	}
	programs := regexp.MustCompile("(?s)```python\n(.*?)```").FindAllStringSubmatch(guide, -1)
	if len(programs) != 2 {
		t.Fatalf("%d programs, want 2", len(programs))
	}
	// Invented jars rise to twice their height and more.
	if got := run("pandas", exec.Command(python, "-c", programs[0][1])); !regexp.MustCompile(`(?m)^20\d\d-.* [23]\.\d+ +2\d\.\d+$`).MatchString(got) {
		t.Errorf("pandas says\n%s", got)
	}
	if got := run("fed", exec.Command(python, "-c", programs[1][1])); !strings.HasPrefix(got, "fed at 20") {
		t.Errorf("fed says %q", got)
	}
	sensors := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindStringSubmatch(guide)
	// After a feed the ratio comes with the next reading.
	leavendtest.Eventually(t, "the hub's sensors show rise and temperature", func() bool {
		hub := exec.Command(python, "-c", restSensor)
		hub.Stdin = strings.NewReader(sensors[1])
		return regexp.MustCompile(`(?s)Bramble rise \d.*\nBramble temperature \d\d`).MatchString(run("REST sensor", hub))
	})
}

// restSensor does what a hub does with its configuration.
const restSensor = `
import json, sys, urllib.request, yaml, jinja2
for rest in yaml.safe_load(sys.stdin)["rest"]:
    with urllib.request.urlopen(urllib.request.Request(rest["resource"], headers=rest["headers"])) as answer:
        value = json.load(answer)
    for sensor in rest["sensor"]:
        print(sensor["name"], jinja2.Environment(undefined=jinja2.StrictUndefined).from_string(sensor["value_template"]).render(value_json=value))
`

// python3 is Debian's Python with some of Debian's modules.
func python3(t *testing.T, modules ...string) string {
	t.Helper()
	const python = "/usr/bin/python3"
	if out, err := exec.Command(python, "-c", "import "+strings.Join(modules, ", ")).CombinedOutput(); err != nil {
		why := fmt.Sprintf("%v %s; apt-get install python3-%s", err, out, strings.Join(modules, " python3-"))
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatal(why)
		}
		t.Skip(why)
	}
	return python
}

// demoPage starts the demo and returns the address of its page.
func demoPage(t *testing.T) string {
	t.Helper()
	cmd := program("demo", "--any-ports")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	var said bytes.Buffer
	at := regexp.MustCompile(`http://(127\.0\.0\.1:\d+)/\s`)
	buf := make([]byte, 4096)
	for {
		n, err := out.Read(buf)
		said.Write(buf[:n])
		if m := at.FindStringSubmatch(said.String()); m != nil {
			go func() { _, _ = io.Copy(io.Discard, out) }()
			return "http://" + m[1]
		}
		if err != nil {
			t.Fatalf("the demo says no address: %v\n%s", err, said.String())
		}
	}
}

// demoToken sets a password, so that a token is needed, and makes one.
func demoToken(t *testing.T, page string) string {
	t.Helper()
	jar, _ := cookiejar.New(nil)
	client := &http.Client{Jar: jar}
	ask := func(method, path, body string) (got map[string]any) {
		r, err := http.NewRequestWithContext(t.Context(), method, page+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		answer, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		if err := json.NewDecoder(answer.Body).Decode(&got); err != nil || answer.StatusCode >= 300 {
			t.Fatalf("%s %s: %s %v %v", method, path, answer.Status, got, err)
		}
		return got
	}
	ask("PUT", "/api/v1/password", `{"new":"flour and water"}`)
	return ask("POST", "/api/v1/tokens", `{"name":"notebook","right":"feed"}`)["token"].(string)
}
