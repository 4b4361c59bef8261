package metrics

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const deploy = "../../../../deploy/"

func readFile(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// promtool runs the real tool in a folder.
func promtool(t *testing.T, dir string, args ...string) (string, error) {
	t.Helper()
	cmd := exec.Command(realPeer(t, "promtool", "prometheus"), args...)
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	return string(out), err
}

func TestRulesWithPromtool(t *testing.T) {
	for _, args := range [][]string{
		{"check", "config", "prometheus.yml"}, {"check", "rules", "leavend.rules.yml"}, {"test", "rules", "leavend.rules.test.yml"},
	} {
		if out, err := promtool(t, deploy+"prometheus", args...); err != nil {
			t.Errorf("promtool %s: %v\n%s", strings.Join(args, " "), err, out)
		}
	}
}

// Each change to a rule must make a case fail, or the cases prove nothing.
func TestRuleCasesNoticeChanges(t *testing.T) {
	rules := readFile(t, deploy+"prometheus/leavend.rules.yml")
	for _, change := range []struct{ name, from, to string }{
		{"the cutoff trips", "leavend_cutoff_latched == 1", "leavend_cutoff_latched == 2"},
		{"the mat is on and on", "> 4.5 * 3600", "> 45 * 3600"},
		{"a board goes dark", `up{job="leavend"} == 0`, `up == 0`},
		{"a probe is pulled out", "leavend_reading_timestamp_seconds > 300", "leavend_reading_timestamp_seconds > 900"},
		{"the starter is not fed", `leavend_vessel_info{kind="jar"}`, "leavend_vessel_info"},
		{"the starter is not fed", `{stage="fridge"}`, `{stage="lag"}`},
		{"the history cannot be written", "min_over_time", "max_over_time"},
	} {
		dir := t.TempDir()
		changed := strings.Replace(rules, change.from, change.to, 1)
		if changed == rules {
			t.Errorf("the rules have no %s", change.from)
		}
		write(t, filepath.Join(dir, "leavend.rules.yml"), changed)
		write(t, filepath.Join(dir, "leavend.rules.test.yml"), oneCase(t, change.name))
		if out, err := promtool(t, dir, "test", "rules", "leavend.rules.test.yml"); err == nil {
			t.Errorf("with %s in the place of %s the case passes:\n%s", change.to, change.from, out)
		}
	}
}

// oneCase returns the file of cases with all but one taken out.
func oneCase(t *testing.T, name string) string {
	t.Helper()
	head, cases, _ := strings.Cut(readFile(t, deploy+"prometheus/leavend.rules.test.yml"), "  - name: ")
	for c := range strings.SplitSeq(cases, "  - name: ") {
		if strings.HasPrefix(c, name) {
			return head + "  - name: " + c
		}
	}
	t.Fatalf("no case is called %s", name)
	return ""
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestEveryAlertHasACaseInWhichItFires(t *testing.T) {
	cases := readFile(t, deploy+"prometheus/leavend.rules.test.yml")
	alerts := regexp.MustCompile(`alert: (\w+)`).FindAllStringSubmatch(readFile(t, deploy+"prometheus/leavend.rules.yml"), -1)
	if len(alerts) < 10 {
		t.Errorf("found %d alerts", len(alerts))
	}
	for _, a := range alerts {
		if !regexp.MustCompile(`alertname: ` + a[1] + `\n.*\n +exp_alerts:`).MatchString(cases) {
			t.Errorf("no case makes %s fire", a[1])
		}
	}
}

// seriesIn finds the names of our series and recording rules in a text.
func seriesIn(text string) []string {
	names := regexp.MustCompile(`\b(?:instance\w*:)?leavend_[a-z0-9_]+(?::\w+)?`).FindAllString(text, -1)
	slices.Sort(names)
	return slices.Compact(names)
}

// recorded returns the names that the recording rules make.
func recorded(t *testing.T) []string {
	t.Helper()
	var names []string
	for _, m := range regexp.MustCompile(`record: (\S+)`).FindAllStringSubmatch(readFile(t, deploy+"prometheus/leavend.rules.yml"), -1) {
		names = append(names, m[1])
	}
	return names
}

func TestRulesNameSeriesThatExist(t *testing.T) {
	all := append(names(), recorded(t)...)
	found := seriesIn(readFile(t, deploy+"prometheus/leavend.rules.yml"))
	if len(found) < 15 {
		t.Errorf("found only %v", found)
	}
	for _, name := range found {
		if !slices.Contains(all, name) {
			t.Errorf("the rules name %s, which does not exist", name)
		}
	}
}
