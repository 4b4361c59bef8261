package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/planning"
	"leavend/sensor/sim/simtest"
)

// planDough is a baker's own dough, which is wanted risen and not baked.
const planDough = `[[plan.recipe]]
name = "flat dough"
starter_g = 60
water_g = 300
[[plan.recipe.flour]]
kind = "wheat"
grams = 480
[[plan.recipe.stage]]
name = "mix"
time = "20m"
[[plan.recipe.stage]]
name = "bulk"
kind = "rise"
time = "9h"
at_c = 22
[[plan.recipe.stage]]
name = "use"
time = "10m"
`

// planned runs the command and returns what it printed.
func planned(t *testing.T, conf string, args ...string) (out, errs string, code int) {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "leavend.toml")
	text := fmt.Sprintf("data_dir = %q\n", dir) + conf
	configtest.WriteFile(t, file, text)
	var stdout, stderr bytes.Buffer
	code = Execute(context.Background(), append([]string{"plan", "-c", file}, args...), &stdout, &stderr)
	return stdout.String(), stderr.String(), code
}

// TestPlanGolden holds what is printed to the files beside the test: all of
// these kitchens and starters are invented.
func TestPlanGolden(t *testing.T) {
	t.Parallel() // with those that wait for a daemon
	thursday := []string{"Saturday 07:30", "--from", "2026-11-26 18:04"}
	record := func(feeds int, topped bool, ago time.Duration) string {
		path := filepath.Join(t.TempDir(), "leavend.db")
		leavendtest.BramblesPast(t, path, time.Date(2026, 11, 26, 17, 4, 0, 0, time.UTC).Add(-ago), feeds, topped)
		return path
	}
	tests := []struct {
		name, conf string
		args       []string
	}{
		{"nothing known, no mat", leavendtest.PlanConfig, thursday},
		{"nothing known, on the mat", leavendtest.PlanConfig + leavendtest.PlanMat, thursday},
		{"eight feeds on record", leavendtest.PlanConfig + leavendtest.PlanMat, append(thursday, "--store", record(8, true, 10*time.Hour))},
		{"no top since the feed", leavendtest.PlanConfig + leavendtest.PlanMat, append(thursday, "--store", record(8, false, 30*time.Hour))},
		{"long in the fridge", leavendtest.PlanConfig + leavendtest.PlanMat, append(thursday, "--fridge", "--store", record(8, true, 12*24*time.Hour))},
		{"too little in the jar", leavendtest.PlanConfig, append(thursday, "--have", "2")},
		{"away by day", leavendtest.PlanConfig + leavendtest.PlanMat + "[[plan.away]]\nfrom = \"08:00\"\nto = \"17:00\"\ndays = [\"thu\", \"fri\"]\n", thursday},
		{"too late for it", leavendtest.PlanConfig + leavendtest.PlanMat, []string{"Saturday 07:30", "--from", "2026-11-27 21:00"}},
		{"overnight bulk in ounces", "units = \"us\"\nclock = 12\n" + leavendtest.PlanConfig, []string{"Saturday 12:00 pm", "--recipe", "overnight loaf", "--from", "2026-11-26 18:04"}},
		{"hearth loaf, cooled", leavendtest.PlanConfig + leavendtest.PlanMat, append(thursday, "--recipe", "hearth loaf", "--cooled")},
		{"fed five weeks ago", leavendtest.PlanConfig + leavendtest.PlanMat, append(thursday, "--store", record(8, true, 35*24*time.Hour))},
		{"away all the time", leavendtest.PlanConfig + "[[plan.away]]\nstart = \"2026-11-26 12:00\"\nend = \"2026-11-28 12:00\"\n", thursday},
		{"dough without a bake", leavendtest.PlanConfig + planDough, append(thursday, "--recipe", "flat dough")},
		{"over new year", leavendtest.PlanConfig, []string{"2027-01-01 09:00", "--from", "2026-12-30 18:04"}},
		{"the clocks go forward", leavendtest.PlanConfig, []string{"Sunday 08:00", "--from", "2027-03-27 07:04"}},
		{"the clocks go back", leavendtest.PlanConfig, []string{"Sunday 08:00", "--from", "2026-10-24 07:04"}},
		{"rye", leavendtest.PlanConfig + leavendtest.PlanMat + "[[plan.flour]]\nkind = \"rye\"\ngrams = 640\n", append(thursday, "--recipe", "rye tin")},
	}
	tests = append(tests, struct {
		name, conf string
		args       []string
	}{"rising now", leavendtest.PlanConfig + leavendtest.PlanMat, []string{"Friday 18:00", "--from", "2026-11-26 18:04", "--store", record(8, false, 7*time.Hour)}})
	for name, args := range map[string][]string{
		"two loaves":                  append(thursday, "--loaves", "2", "--store", record(8, true, 10*time.Hour)),
		"a levain":                    append(thursday, "--levain", "-", "--store", record(8, true, 10*time.Hour)),
		"four hours":                  {"Thursday 22:10", "--from", "2026-11-26 18:04", "--store", record(8, false, 8*time.Hour)},
		"away until five":             {"Saturday 08:00", "--from", "2026-11-27 07:00", "--store", record(8, true, 10*time.Hour)},
		"seven hours from a ripe jar": {"2026-11-27 01:20", "--from", "2026-11-26 18:04", "--store", record(8, false, 9*time.Hour+30*time.Minute)},
	} {
		conf := leavendtest.PlanConfig + leavendtest.PlanMat
		if name == "away until five" {
			conf += "[[plan.away]]\nfrom = \"08:00\"\nto = \"17:00\"\ndays = [\"fri\"]\n"
		}
		if name == "seven hours from a ripe jar" {
			conf += "[plan]\nasleep_from = \"01:30\"\n"
		}
		tests = append(tests, struct {
			name, conf string
			args       []string
		}{name, conf, args})
	}
	const us = "units = \"us\"\nclock = 12\n"
	const german = "language = \"de\"\n"
	for i, tt := range tests[1:9] {
		if i < 4 {
			tests = append(tests, struct {
				name, conf string
				args       []string
			}{tt.name + ", in Fahrenheit", us + tt.conf, tt.args})
		}
		tests = append(tests, struct {
			name, conf string
			args       []string
		}{tt.name + ", in German", german + strings.TrimPrefix(tt.conf, us), tt.args})
	}
	english := regexp.MustCompile(`\b([Tt]he|of|and|until|with|keep|fridge|mix|bulk|while)\b`)
	metric := regexp.MustCompile(`[0-9] ?°C|[0-9] g\b|\b(1[3-9]|2[0-3]):[0-5]0|\b0[0-9]:[0-5]0`)
	for i, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if i > 4 {
				simtest.NotUnderRace(t) // the first show the detector all that runs at once
			}
			out, errs, code := planned(t, tt.conf, tt.args...)
			if m := metric.FindString(out); m != "" && strings.HasPrefix(tt.conf, us) {
				t.Errorf("%q is said to a baker in the United States", m)
			}
			if m := english.FindString(strings.ReplaceAll(out, "Pan loaf", "")); m != "" && strings.HasPrefix(tt.conf, german) {
				t.Errorf("%q is said to a German reader: %s", m, out)
			}
			got := out + fmt.Sprintf("\nexit %d\n", code)
			if errs != "" {
				got += "stderr: " + errs
			}
			golden.Compare(t, filepath.Join("testdata", "plan", strings.NewReplacer(" ", "-", ",", "").Replace(tt.name)+".txt"), got)
		})
	}
}

// A record narrows what is said of the top.
func TestPlanRecordNarrows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "leavend.db")
	leavendtest.BramblesPast(t, path, time.Date(2026, 11, 26, 7, 0, 0, 0, time.UTC), 8, true)
	width := func(args ...string) time.Duration {
		out, errs, code := planned(t, leavendtest.PlanConfig+leavendtest.PlanMat, append([]string{"Saturday 07:30", "--from", "2026-11-26 18:04", "--json"}, args...)...)
		var s planning.Sheet
		if err := json.Unmarshal([]byte(out), &s); err != nil || code != 0 || len(s.Plans) == 0 {
			t.Fatalf("%v, exit %d, %s", err, code, errs)
		}
		for _, step := range s.Plans[0].Steps {
			if step.Kind == "top" {
				return step.Latest.Sub(step.Earliest)
			}
		}
		t.Fatal("no top in the plan")
		return 0
	}
	known, unknown := width("--store", path), width()
	if !(known < unknown*2/3) {
		t.Errorf("the top's 80 %% interval is %v wide with eight feeds on record, %v with none", known, unknown)
	}
}

func TestPlanMistakes(t *testing.T) {
	tests := []struct {
		name string
		args []string
		want string
	}{
		{"no day", []string{"Caturday 7:30"}, `plan: “caturday” is no day; write it like "Saturday 07:30"`},
		{"past", []string{"2026-11-26 07:30", "--from", "2026-11-27 07:30"}, "is past"},
		{"far", []string{"2026-12-26 07:30", "--from", "2026-11-27 07:30"}, "more than 10 days away. Plan it later"},
		{"recipe", []string{"tomorrow 7:30", "--recipe", "baguette"}, "There is no recipe “baguette”; there are pan loaf, overnight loaf, hearth loaf, rye tin"},
		{"jar", []string{"tomorrow 7:30", "--vessel", "Pilot"}, "There is no jar “Pilot” in the configuration"},
		{"have", []string{"tomorrow 7:30", "--have", "-3"}, "--have: -3 is not between 0 and 20000"},
		{"from", []string{"tomorrow 7:30", "--from", "then"}, `--from: “then” is no time of day`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			out, errs, code := planned(t, leavendtest.PlanConfig, tt.args...)
			if code != failure.Usage || !strings.Contains(errs, tt.want) {
				t.Errorf("exit %d: %s%s\nwant %q", code, out, errs, tt.want)
			}
		})
	}
}

// The calendar of a plan is read back by python3-icalendar; each step keeps
// its UID when the plan is made again at another hour.
func TestPlanCalendar(t *testing.T) {
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import icalendar").Run(); err != nil {
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatal("python3-icalendar is missing: ", err)
		}
		t.Skip("python3-icalendar is missing")
	}
	read := func(from, more string) map[string][]string {
		file := filepath.Join(t.TempDir(), "bread.ics")
		out, errs, code := planned(t, more+leavendtest.PlanConfig+leavendtest.PlanMat, "Saturday 07:30", "--from", from, "--ics", file)
		if code != 0 {
			t.Fatalf("exit %d: %s%s", code, out, errs)
		}
		const script = `
import sys, json, icalendar
c = icalendar.Calendar.from_ical(open(sys.argv[1], "rb").read())
print(json.dumps({str(e["uid"]): [str(e["summary"]), e.decoded("dtstart").isoformat(), str(len(e.walk("VALARM"))), str(e["description"])] for e in c.walk("VEVENT")}))
`
		text, err := exec.Command(python, "-c", script, file).Output()
		if err != nil {
			t.Fatal(err)
		}
		var all map[string][]string
		if err := json.Unmarshal(text, &all); err != nil {
			t.Fatal(err)
		}
		return all
	}
	first, later, us := read("2026-11-26 18:04", ""), read("2026-11-27 10:04", ""), read("2026-11-26 18:04", "units = \"us\"\nclock = 12\n")
	if len(first) < 6 {
		t.Errorf("%d entries, want one for each step", len(first))
	}
	feeds := 0
	for uid, e := range first {
		if e[0] == "Feed" {
			feeds++
			again, ok := later[uid]
			if !ok || again[1] == e[1] {
				t.Errorf("the feed is %v at first and %v in the later plan; want the same UID and another hour", e, again)
			}
			if got := us[uid][3]; !strings.Contains(got, "keep 1.48 oz starter, add 1.48 oz white wheat flour") || !strings.Contains(got, "on the mat at 77 °F") {
				t.Errorf("in the United States it reads %q", got)
			}
			if e[2] != "1" || !strings.Contains(e[3], "keep 42 g starter, add 42 g white wheat flour") {
				t.Errorf("the feed reads %v", e)
			}
		}
	}
	if feeds != 1 {
		t.Errorf("%d feeds in the calendar, want one", feeds)
	}
}

// The calendar of every week, read back: it begins by the clock on the wall, so
// that its hour stays when the clocks change, and comes back weekly (RFC 5545,
// sections 3.3.5 and 3.8.5.3).
func TestWeeklyCalendar(t *testing.T) {
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import icalendar").Run(); err != nil {
		if os.Getenv("LEAVEND_REAL_PEERS") != "" {
			t.Fatal("python3-icalendar is missing: ", err)
		}
		t.Skip("python3-icalendar is missing")
	}
	file := filepath.Join(t.TempDir(), "bread.ics")
	if out, errs, code := planned(t, leavendtest.PlanConfig, "every Sunday 08:00", "--from", "2027-03-26 18:04", "--ics", file); code != 0 {
		t.Fatalf("exit %d: %s%s", code, out, errs)
	}
	const script = `
import sys, icalendar
c = icalendar.Calendar.from_ical(open(sys.argv[1], "rb").read())
for e in c.walk("VEVENT"):
    print(e["summary"], e.decoded("dtstart").isoformat(), e["rrule"].to_ical().decode(), e.decoded("dtend") > e.decoded("dtstart"))
`
	text, err := exec.Command(python, "-c", script, file).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	if len(lines) < 6 {
		t.Errorf("%d entries, want one for each step", len(lines))
	}
	for _, l := range lines {
		if !strings.HasSuffix(l, " FREQ=WEEKLY True") || strings.Contains(l, "+") {
			t.Errorf("an entry reads %q", l)
		}
	}
	if last := lines[len(lines)-1]; !strings.HasPrefix(last, "Pan loaf is ready 2027-03-28T08:00:00 ") {
		t.Errorf("the last entry reads %q", last)
	}
}

// BenchmarkPlan asks as the page does, with the starter's own model and a mat.
func BenchmarkPlan(b *testing.B) {
	conf := configtest.Parse(b, leavendtest.PlanConfig+leavendtest.PlanMat)
	for b.Loop() {
		if _, _, _, err := (planning.Planner{Conf: conf}).Answer(context.Background(), planning.Ask{Ready: leavendtest.ThursdayEvening.Add(37 * time.Hour)}, leavendtest.ThursdayEvening); err != nil {
			b.Fatal(err)
		}
	}
}
