package deploy_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// The guide to troubles has a heading for everything that `leavend check` can
// warn of or fail with, in the catalogue's words, and no other.
func TestTroublesAreTheChecks(t *testing.T) {
	text, err := os.ReadFile("guide/trouble.md")
	if err != nil {
		t.Fatal(err)
	}
	var headings []string
	for _, m := range regexp.MustCompile("(?m)^### (.*)$").FindAllStringSubmatch(string(text), -1) {
		headings = append(headings, strings.Split(m[1], " / ")...)
	}
	troubles, all := checkSays(t)
	if len(troubles) < 20 {
		t.Fatalf("only %d troubles were found in the check's source: %q", len(troubles), troubles)
	}
	for _, says := range troubles {
		if !slices.Contains(headings, says) {
			t.Errorf("guide/trouble.md has no heading for %q", says)
		}
	}
	for _, h := range headings {
		if !slices.Contains(all, h) {
			t.Errorf("guide/trouble.md has a heading %q, which the check never says", h)
		}
	}
}

// What the package holds of the papers links only to what it holds too.
func TestPackagedPapersLinkToOneAnother(t *testing.T) {
	dir := t.TempDir()
	if out, err := exec.Command("package/papers.sh", dir).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	papers := 0
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".md" {
			return err
		}
		papers++
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, m := range regexp.MustCompile(`\]\(([^)#:]+)[)#]`).FindAllStringSubmatch(string(text), -1) {
			if _, err := os.Stat(filepath.Join(filepath.Dir(path), m[1])); err != nil {
				t.Errorf("%s: %v", path, err)
			}
		}
		return nil
	})
	if err != nil || papers < 12 {
		t.Errorf("%d papers, %v", papers, err)
	}
	for _, wanted := range []string{"deploy/guide/start.md", "cmd/leavend/internal/metrics/METRICS.md", "deploy/prometheus/README.md"} {
		if _, err := os.Stat(filepath.Join(dir, wanted)); err != nil {
			t.Error(err)
		}
	}
}

var (
	trouble = regexp.MustCompile(`\b(?:fail|warn)\((?:[^"\n]|"[^"\n]*")*?"(check\.[a-z0-9_.]+)"`)
	places  = regexp.MustCompile(`\{[^}]*\}`)
)

// checkSays reads out of the catalogue what the check says in English, with "…" for
// what differs from board to board: what its source warns of or fails with, and all.
func checkSays(t *testing.T) (troubles, all []string) {
	t.Helper()
	catalogue, err := os.ReadFile("../cmd/leavend/internal/text/language/en.toml")
	if err != nil {
		t.Fatal(err)
	}
	var tree struct{ Check map[string]any }
	if err := toml.Unmarshal(catalogue, &tree); err != nil {
		t.Fatal(err)
	}
	says := map[string]string{}
	for group, sentences := range tree.Check {
		inGroup, _ := sentences.(map[string]any)
		for name, sentence := range inGroup {
			if one, ok := sentence.(string); ok {
				says["check."+group+"."+name] = places.ReplaceAllString(one, "…")
			}
		}
	}
	files, err := filepath.Glob("../cmd/leavend/internal/check/*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		source, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range trouble.FindAllStringSubmatch(string(source), -1) {
			troubles = append(troubles, says[m[1]])
		}
	}
	slices.Sort(troubles)
	// A sentence of few words of its own, such as "….", is another's.
	troubles = slices.DeleteFunc(slices.Compact(troubles), func(s string) bool { return len(strings.Fields(s)) < 2 })
	return troubles, slices.Collect(maps.Values(says))
}

// Every drawing is sound XML with words for who cannot see it, and every link
// of the guides leads somewhere.
func TestGuides(t *testing.T) {
	drawings, err := filepath.Glob("guide/*.svg")
	if err != nil || len(drawings) == 0 {
		t.Fatal("there are no drawings", err)
	}
	for _, name := range drawings {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		d := xml.NewDecoder(strings.NewReader(string(data)))
		for err == nil {
			_, err = d.Token()
		}
		if !errors.Is(err, io.EOF) {
			t.Errorf("%s: %v", name, err)
		}
		if !strings.Contains(string(data), "<title>") || !strings.Contains(string(data), "<desc>") {
			t.Errorf("%s lacks a title or a description", name)
		}
	}
	pages, err := filepath.Glob("guide/*.md")
	if err != nil || len(pages) == 0 {
		t.Fatal("there are no guides", err)
	}
	used := ""
	for _, page := range append(pages, "../README.md", "../DEVELOPERS.md") {
		data, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		used += string(data)
		for _, m := range regexp.MustCompile(`\]\(([^)#:]+)(#[^)]*)?\)`).FindAllStringSubmatch(string(data), -1) {
			if _, err := os.Stat(filepath.Join(filepath.Dir(page), m[1])); err != nil {
				t.Errorf("%s links to %s, which is not there", page, m[1])
			}
		}
	}
	for _, name := range drawings {
		if !strings.Contains(used, filepath.Base(name)) {
			t.Errorf("no guide shows %s", name)
		}
	}
}

// The table of jars follows from the cone: half the bore over the tangent of
// half the angle is how deep it sees free, and the collar takes 45 mm of that; of
// a VL53L4CD with its 18° it takes 20. A jar is calibrated with what a laser does
// not look through (AN5851).
func TestJarsThatFit(t *testing.T) {
	text, err := os.ReadFile("guide/lid.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{fmt.Sprintf("may be %.0f mm tall", math.Floor(40/math.Tan(9*math.Pi/180)-20)), "filled with flour or rice", "Not with\nwater"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the guide does not say %q", want)
		}
	}
	rows := regexp.MustCompile(`(?m)^\| (\d+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$`).FindAllStringSubmatch(string(text), -1)
	if len(rows) < 5 {
		t.Fatalf("the table has %d rows", len(rows))
	}
	for _, row := range rows {
		bore, _ := strconv.ParseFloat(row[1], 64)
		for i, angle := range []float64{27, 25, 20, 15} {
			want := bore/2/math.Tan(angle/2*math.Pi/180) - 45
			if got, _ := strconv.ParseFloat(row[i+2], 64); math.Abs(got-want) > 1 {
				t.Errorf("bore %v, %v°: %v mm, want %.1f", bore, angle, got, want)
			}
		}
	}
}
