package metrics

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// dashboard is the part of the published dashboard schema (@grafana/schema
// 13.2, dashboard kind) that ours uses. Decoding refuses other keys.
type dashboard struct {
	UID, Title, Description, Refresh, Timezone string
	Tags                                       []string
	SchemaVersion, Version, GraphTooltip       int
	Editable                                   bool
	Time                                       struct{ From, To string }
	Timepicker                                 struct{}
	Links                                      []struct{}
	Templating                                 struct{ List []variable }
	Annotations                                struct{ List []annotation }
	Panels                                     []panel
}

type source struct{ Type, UID string }

type variable struct {
	Name, Label, Type   string
	Datasource          source
	Query               any
	Refresh, Sort, Hide int
	Multi, IncludeAll   bool
	Current             struct{ Text, Value any }
}

type annotation struct {
	Name, IconColor, Expr, TitleFormat, Step string
	Datasource                               source
	Enable, Hide                             bool
}

type panel struct {
	ID                       int
	Type, Title, Description string
	Repeat, RepeatDirection  string
	MaxPerRow                int
	Collapsed                bool
	Panels                   []panel
	Datasource               source
	GridPos                  struct{ X, Y, W, H int }
	Targets                  []target
	FieldConfig              struct {
		Defaults  map[string]any
		Overrides []struct {
			Matcher struct {
				ID      string
				Options any
			}
			Properties []struct {
				ID    string
				Value any
			}
		}
	}
	Options         map[string]any
	Transformations []struct {
		ID      string
		Options any
	}
}

type target struct {
	RefID, EditorMode, Expr, LegendFormat string
	Datasource                            source
	Range, Instant                        bool
}

func loadDashboard(t *testing.T) dashboard {
	t.Helper()
	var d dashboard
	r := json.NewDecoder(strings.NewReader(readFile(t, deploy+"grafana/leavend-rise.json")))
	r.DisallowUnknownFields()
	if err := r.Decode(&d); err != nil {
		t.Fatal(err)
	}
	return d
}

// expressions returns every PromQL expression with its place.
func (d dashboard) expressions() map[string]string {
	all := make(map[string]string)
	for _, p := range d.Panels {
		for _, q := range p.Targets {
			all[p.Title+" "+q.RefID] = q.Expr
		}
	}
	for _, a := range d.Annotations.List {
		all["annotation "+a.Name] = a.Expr
	}
	return all
}

func TestDashboardNamesSeriesThatExist(t *testing.T) {
	text := readFile(t, deploy+"grafana/leavend-rise.json")
	found := seriesIn(text)
	if len(found) < 20 {
		t.Errorf("found only %v", found)
	}
	for _, name := range found {
		if !slices.Contains(names(), name) {
			t.Errorf("the dashboard names %s, which does not exist", name)
		}
	}
	labels := make(map[string]bool)
	for _, s := range table() {
		for _, l := range s.labels {
			labels[l] = true
		}
	}
	labels["instance"] = true
	for _, p := range loadDashboard(t).Panels {
		for _, q := range p.Targets {
			for _, part := range strings.Split(q.LegendFormat, "{{")[1:] {
				if l, _, _ := strings.Cut(part, "}}"); !labels[l] {
					t.Errorf("%s: no series has a label %s", p.Title, l)
				}
			}
		}
	}
}

func TestPrometheusReadsTheDashboardsExpressions(t *testing.T) {
	var b strings.Builder
	b.WriteString("groups:\n- name: dashboard\n  rules:\n")
	n := 0
	for where, expr := range loadDashboard(t).expressions() {
		expr = strings.NewReplacer("$instance", ".+", "$vessel", ".+").Replace(expr)
		if strings.Contains(expr, "$") {
			t.Errorf("%s: a variable is left in %s", where, expr)
		}
		n++
		fmt.Fprintf(&b, "  - record: probe:%d\n    expr: %q\n", n, expr)
	}
	dir := t.TempDir()
	write(t, filepath.Join(dir, "probe.yml"), b.String())
	if out, err := promtool(t, dir, "check", "rules", "probe.yml"); err != nil {
		t.Errorf("promtool: %v\n%s", err, out)
	}
	if n < 25 {
		t.Errorf("only %d expressions", n)
	}
}

func TestDashboardForm(t *testing.T) {
	d := loadDashboard(t)
	if d.UID == "" || d.Title == "" || d.SchemaVersion != 42 {
		t.Errorf("uid %q, title %q, schema version %d, want 42, that of @grafana/schema 13.2", d.UID, d.Title, d.SchemaVersion)
	}
	kinds := []string{"row", "stat", "xychart", "timeseries", "state-timeline"}
	ids := make(map[int]bool)
	taken := make(map[[2]int]string)
	for _, p := range d.Panels {
		if ids[p.ID] {
			t.Errorf("panel id %d stands twice", p.ID)
		}
		ids[p.ID] = true
		if !slices.Contains(kinds, p.Type) {
			t.Errorf("%s: panel type %s", p.Title, p.Type)
		}
		if p.GridPos.W < 1 || p.GridPos.X+p.GridPos.W > 24 || p.GridPos.H < 1 {
			t.Errorf("%s: stands at %+v; the grid is 24 wide", p.Title, p.GridPos)
		}
		for x := p.GridPos.X; x < p.GridPos.X+p.GridPos.W; x++ {
			for y := p.GridPos.Y; y < p.GridPos.Y+p.GridPos.H; y++ {
				if other := taken[[2]int{x, y}]; other != "" {
					t.Fatalf("%s covers %s", p.Title, other)
				}
				taken[[2]int{x, y}] = p.Title
			}
		}
		if p.Type != "row" && (p.Description == "" || len(p.Targets) == 0) {
			t.Errorf("%s: wants a description and a query", p.Title)
		}
		for _, q := range p.Targets {
			if q.RefID == "" || q.Datasource.UID != "${datasource}" {
				t.Errorf("%s: query %+v; the source must be the variable", p.Title, q)
			}
		}
	}
}

// The chart against the feed is the dashboard's heart: its axes must be the
// columns that its queries give.
func TestChartAgainstTheFeed(t *testing.T) {
	for _, p := range loadDashboard(t).Panels {
		if p.Type != "xychart" {
			continue
		}
		b, _ := json.Marshal(p.Options["series"])
		for _, q := range p.Targets {
			if !strings.Contains(string(b), fmt.Sprintf("%q", q.LegendFormat)) {
				t.Errorf("no axis shows %q: %s", q.LegendFormat, b)
			}
		}
		if p.Repeat != "vessel" || len(p.Transformations) != 1 || p.Transformations[0].ID != "joinByField" {
			t.Error("the two queries must be joined by time, once for each vessel")
		}
		return
	}
	t.Error("there is no chart against the feed")
}
