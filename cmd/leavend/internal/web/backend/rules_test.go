package backend

import (
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// rulesConfig has a recipe of its own beside the examples.
const rulesConfig = leavendtest.PlanConfig + `
[plan]
asleep_from = "23:00"
asleep_to = "07:00"
[[plan.away]]
from = "08:00"
to = "17:00"
days = ["mon"]
[[plan.away]]
start = "2027-01-02 10:00"
end = "2027-01-03 18:00"
[[plan.recipe]]
name = "rolls"
starter_g = 80
water_g = 300
salt_g = 9
[[plan.recipe.flour]]
kind = "wheat"
grams = 450
[[plan.recipe.stage]]
name = "mix"
kind = "hands"
time = "15m"
[[plan.recipe.stage]]
name = "bulk"
kind = "rise"
time = "5h"
at_c = 25
[[plan.recipe.stage]]
name = "bake"
time = "20m"
`

// rulesPage is a page over a store; opened again it is as after a restart.
type rulesPage struct {
	t *testing.T
	m *monitor.Monitor
	k *planning.Keeper
	http.Handler
}

func openRules(t *testing.T, file string) *rulesPage {
	t.Helper()
	m := monitor.NewMonitor(configtest.Parse(t, rulesConfig), event.NewClock(leavendtest.ThursdayEvening, 2), slog.New(slog.DiscardHandler))
	var err error
	if m.Store, _, err = store.Open(t.Context(), file, store.Opts{Clock: store.SteadyClock(m.Clock.Now, t.Name())}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { m.Store.Close() })
	if err := m.OpenKept(t.Context()); err != nil {
		t.Fatal(err)
	}
	p := &rulesPage{t: t, m: m, k: planning.NewKeeper(t.Context(), m)}
	b, _ := New(m, p.k, Opts{})
	server, err := web.New(b, web.Opts{Now: m.Clock.Now, Log: m.Log})
	if err != nil {
		t.Fatal(err)
	}
	p.Handler = server.Handler()
	return p
}

// do asks the page, with headers in pairs, and returns the status, the entity tag and
// the answer.
func (p *rulesPage) do(method, path, body string, headers ...string) (status int, tag string, got map[string]any) {
	p.t.Helper()
	r := httptest.NewRequest(method, "http://127.0.0.1:8420/api/"+path, strings.NewReader(body))
	r.RemoteAddr = "127.0.0.1:4000"
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	for pair := range slices.Chunk(headers, 2) {
		r.Header.Set(pair[0], pair[1])
	}
	w := httptest.NewRecorder()
	p.ServeHTTP(w, r)
	if w.Body.Len() > 0 {
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
			p.t.Fatal(err)
		}
	}
	return w.Code, w.Header().Get("ETag"), got
}

func (p *rulesPage) want(status int, method, path, body string, headers ...string) {
	p.t.Helper()
	if got, _, said := p.do(method, path, body, headers...); got != status {
		p.t.Errorf("%s %s: %d %v, want %d", method, path, got, said, status)
	}
}

// Hours that are set on the page hold at once and after a restart, until those of the
// configuration shall hold again; its absence with a date stays.
func TestHoursOnThePage(t *testing.T) {
	file := filepath.Join(t.TempDir(), "leavend.db")
	p := openRules(t, file)
	holds := func(asleep string, own bool) {
		t.Helper()
		_, _, got := p.do("GET", "hours", "")
		e := p.m.Effective().Plan
		if got["own"] != own || got["asleep_from"] != asleep || e.AsleepFrom.String() != asleep || len(e.Away) != 2 || e.Away[0].Start.IsZero() == e.Away[1].Start.IsZero() {
			t.Errorf("the page says %v, plans go by %v and %v", got, e.AsleepFrom, e.Away)
		}
	}
	holds("23:00", false)
	const early = `{"asleep_from":"21:30","asleep_to":"05:30","away":[{"from":"06:00","to":"14:00","days":["tue"]}]}`
	p.want(204, "PUT", "hours", early)
	holds("21:30", true)
	for name, bad := range map[string]string{"no time": strings.Replace(early, "21:30", "25:00", 1), "no length": strings.Replace(early, "14:00", "06:00", 1)} {
		if got, _, _ := p.do("PUT", "hours", bad); got != 409 {
			t.Errorf("%s: %d", name, got)
		}
	}
	holds("21:30", true)
	p.m.Store.Close()
	p = openRules(t, file)
	holds("21:30", true)
	if c, err := monitor.EffectiveOf(t.Context(), p.m.Conf, p.m.Store); err != nil || c.Plan.AsleepFrom.String() != "21:30" {
		t.Errorf("from the store alone: %v, %v", c.Plan.AsleepFrom, err)
	}
	p.want(204, "DELETE", "hours", "")
	holds("23:00", false)
}

// Of two pages that are open at once the second is told, and changes nothing.
func TestTwoPagesAtOnce(t *testing.T) {
	p := openRules(t, filepath.Join(t.TempDir(), "leavend.db"))
	for _, path := range []struct{ read, change, one, other string }{
		{"hours", "hours", `{"asleep_from":"21:30","asleep_to":"05:30","away":[]}`, `{"asleep_from":"22:00","asleep_to":"06:00","away":[]}`},
		{"recipes", "recipes/buns", recipe("buns"), strings.Replace(recipe("buns"), "310", "320", 1)},
	} {
		_, seen, _ := p.do("GET", path.read, "")
		p.want(204, "PUT", path.change, path.one, "If-Match", seen)
		_, after, _ := p.do("GET", path.read, "")
		if status, _, said := p.do("PUT", path.change, path.other, "If-Match", seen); status != 412 || said["code"] != "changed" {
			t.Errorf("%s, the second page: %d %v", path.read, status, said)
		}
		if _, now, _ := p.do("GET", path.read, ""); now != after {
			t.Errorf("%s: the second page changed something", path.read)
		}
		p.want(204, "PUT", path.change, path.other, "If-Match", after)
		p.want(204, "PUT", path.change, path.one) // a program that does not look
	}
}

// recipe is one with a name, as the page sends it.
func recipe(name string) string {
	return `{"name":"` + name + `","own":true,"starter_g":90,"water_g":310,"salt_g":9,"flours":[{"kind":"white wheat flour","grams":450}],"stages":[{"name":"mix","kind":"hands","minutes":20},{"name":"bulk","kind":"rise","minutes":300,"at_c":25},{"name":"bake","kind":"hands","minutes":20}]}`
}

// A recipe that is renamed on the page is renamed in the loaf of every week; it can be
// taken out, and had again as the configuration has it.
func TestRecipesOnThePage(t *testing.T) {
	file := filepath.Join(t.TempDir(), "leavend.db")
	p := openRules(t, file)
	p.want(204, "PUT", "plan/weekly", `{"days":["sat"],"at":"18:00","recipe":"rolls"}`)
	stands := func(weekly string, want ...string) {
		t.Helper()
		_, _, got := p.do("GET", "recipes", "")
		var names []string
		for _, one := range got["recipes"].([]any) {
			if r := one.(map[string]any); r["changed"] == true {
				names = append(names, r["name"].(string)+", changed")
			} else if r["own"] == true {
				names = append(names, r["name"].(string))
			}
		}
		for _, name := range got["removed"].([]any) {
			names = append(names, name.(string)+", removed")
		}
		_, _, plan := p.do("GET", "plan", "")
		if n, all := len(plan["recipes"].([]any)), len(got["recipes"].([]any)); n != all {
			t.Errorf("a plan may be asked for %d of %d recipes", n, all)
		}
		if w := p.k.Weekly(); !slices.Equal(names, want) || w.Recipe != weekly {
			t.Errorf("the recipes are %q, want %q; every week there is %q, want %q", names, want, w.Recipe, weekly)
		}
	}
	stands("rolls", "rolls")
	p.want(204, "PUT", "recipes/rolls", recipe("small rolls"))
	stands("small rolls", "small rolls, changed")
	p.want(409, "PUT", "recipes/rolls", recipe("rolls"), "If-None-Match", "*") // the past knows the other by that name
	p.want(409, "PUT", "recipes/small%20rolls", recipe("pan loaf"))
	p.want(409, "PUT", "recipes/small%20rolls", recipe("small rolls"), "If-None-Match", "*")
	p.want(409, "PUT", "recipes/buns", strings.Replace(recipe("buns"), `"minutes":300`, `"minutes":0`, 1))
	p.want(204, "PUT", "recipes/buns", recipe("buns"), "If-None-Match", "*")
	p.want(204, "PUT", "recipes/rye%20tin", recipe("rye tin"))
	p.m.Store.Close()
	p = openRules(t, file)
	stands("small rolls", "small rolls, changed", "rye tin, changed", "buns")
	p.want(200, "GET", "plans?recipe=rolls&ready=2026-11-28T17:00:00Z", "")
	p.want(204, "DELETE", "recipes/buns", "")
	p.want(404, "DELETE", "recipes/buns", "")
	p.want(404, "DELETE", "recipes/pan%20loaf/change", "")
	p.want(204, "DELETE", "recipes/small%20rolls", "")
	p.want(204, "DELETE", "recipes/hearth%20loaf", "")
	stands("rolls", "rye tin, changed", "rolls, removed", "hearth loaf, removed")
	p.want(204, "DELETE", "recipes/rolls/change", "")
	p.want(204, "DELETE", "recipes/rye%20tin/change", "")
	p.want(204, "DELETE", "recipes/hearth%20loaf/change", "")
	stands("rolls", "rolls")
}

// An absence with a date of the configuration is shown as the holiday; the page ends it, or
// names another.
func TestHolidayOnThePage(t *testing.T) {
	p := openRules(t, filepath.Join(t.TempDir(), "leavend.db"))
	shows := func(from, back string, own bool) {
		t.Helper()
		_, _, got := p.do("GET", "holiday", "")
		if f, _ := got["from"].(string); f != from || got["back"] != back || got["own"] != own {
			t.Errorf("it shows %v, want %s to %s, own %v", got, from, back, own)
		}
	}
	shows("2027-01-02", "2027-01-03", false)
	_, seen, _ := p.do("GET", "holiday", "")
	p.want(204, "PUT", "holiday", `{"from":"2026-12-20","back":"2026-12-27"}`, "If-Match", seen)
	shows("2026-12-20", "2026-12-27", true)
	p.want(412, "PUT", "holiday", `{"back":""}`, "If-Match", seen)
	p.want(204, "PUT", "holiday", `{"back":""}`)
	shows("2027-01-02", "2027-01-03", false)
	p.want(204, "PUT", "holiday", `{"back":""}`)
	shows("", "", false)
	p.want(204, "PUT", "holiday", `{"back":""}`)
}
