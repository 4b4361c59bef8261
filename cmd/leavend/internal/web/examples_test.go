package web

import (
	"bytes"
	"encoding/json"
	"flag"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/web/access"
)

var updateExamples = flag.Bool("updateexamples", false, "write examples.json")

// asked are one request for each operation, in an order in which each finds what
// it needs. {id} is the id that the answer before the last change gave.
func asked() [][3]string {
	at := func(d time.Duration) string { return fakeStart.Add(d).UTC().Format(time.RFC3339) }
	walk := `{"name":"Pilot two","kind":"jar","distance":"i2c-1-0x29","temperature":"","floor_mm":171.4,"height_mm":0,"mat":"none","line":0,"recipe":"","topic":"","cautions_accepted":false,"tell":"","us":false}`
	return [][3]string{
		{"GET", "/api/session", ""},
		{"GET", "/api/now", ""},
		{"GET", "/api/setup", ""},
		{"GET", "/api/vessels/bramble/window?max=20", ""},
		{"GET", "/api/vessels/bramble/recording", ""},
		{"GET", "/api/readings?vessel=bramble", ""},
		{"GET", "/api/journal", ""},
		{"GET", "/api/vessels/bramble/record", ""},
		{"GET", "/api/vessels/bramble/refused", ""},
		{"GET", "/api/vessels/bramble/book?limit=2", ""},
		{"GET", "/api/vessels/bramble/suggestion?need_g=170", ""},
		{"POST", "/api/vessels/bramble/feeds", `{"kept_g":20,"flours":[{"kind":"wheat","grams":50}],"water_g":50,"note":"smells of apples"}`},
		{"GET", "/api/vessels/bramble/feeds/{id}/curve", ""},
		{"PUT", "/api/vessels/bramble/feeds/{id}", `{"kept_g":25,"flours":[{"kind":"wheat","grams":50}],"water_g":50}`},
		{"DELETE", "/api/vessels/bramble/feeds/{id}", ""},
		{"POST", "/api/vessels/bramble/bakes", `{"stars":4,"note":"a little sour","crumb":["open"],"core_c":97,"weight_g":820,"photo":"/9j/4AAQ"}`},
		{"PUT", "/api/vessels/bramble/bakes/{id}", `{"stars":5,"note":"open crumb, still warm"}`},
		{"DELETE", "/api/vessels/bramble/bakes/{id}", ""},
		{"GET", "/api/loaves", ""},
		{"PUT", "/api/loaves/stop", `{"recipe":"pan loaf","use":true}`},
		{"POST", "/api/vessels/bramble/discard", `{"act":"kept","grams":90}`},
		{"DELETE", "/api/vessels/bramble/discard/{id}", ""},
		{"POST", "/api/vessels/bramble/starters", `{"note":"from a friend"}`},
		{"DELETE", "/api/vessels/bramble/starters/{id}", ""},
		{"PUT", "/api/vessels/pilot/fridge", `{"in":true}`},
		{"PUT", "/api/vessels/bramble/wish", `{"at":"` + at(7*time.Hour) + `"}`},
		{"DELETE", "/api/vessels/bramble/wish", ""},
		{"POST", "/api/vessels/dough/folds", ""},
		{"PUT", "/api/vessels/bramble/used", `{"how":"used"}`},
		{"DELETE", "/api/vessels/bramble/used", ""},
		{"GET", "/api/vessels/bramble/depth", ""},
		{"PUT", "/api/vessels/bramble/floor", `{"floor_mm":171.4}`},
		{"PUT", "/api/vessels/pilot/name", `{"name":"Pilot the second"}`},
		{"DELETE", "/api/vessels/pilot", ""},
		{"GET", "/api/hours", ""},
		{"PUT", "/api/hours", `{"asleep_from":"23:00","asleep_to":"07:00","away":[{"from":"08:00","to":"17:00","days":["mon","tue"]}]}`},
		{"PUT", "/api/holiday", `{"back":"` + at(9 * 24 * time.Hour)[:10] + `"}`},
		{"GET", "/api/holiday", ""},
		{"GET", "/api/recipes", ""},
		{"PUT", "/api/recipes/rolls", `{"name":"rolls","own":true,"starter_g":80,"water_g":300,"salt_g":9,"flours":[{"kind":"wheat","grams":450}],"stages":[{"name":"mix","kind":"hands","minutes":20},{"name":"bulk","kind":"rise","minutes":300,"at_c":25,"folds":2,"folds_every":45},{"name":"bake","kind":"hands","minutes":20,"oven_before":30}]}`},
		{"DELETE", "/api/recipes/rolls", ""},
		{"GET", "/api/push", ""},
		{"POST", "/api/push/devices", `{"endpoint":"https://push.example/abc","p256dh":"BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4","auth":"BTBZMqHH6r4Tts7J_aSIgg"}`},
		{"DELETE", "/api/push/devices", `{"endpoint":"https://push.example/abc"}`},
		{"GET", "/api/plans?ready=" + at(36*time.Hour), ""},
		{"PUT", "/api/plan", `{"id":"{id}"}`},
		{"GET", "/api/plan", ""},
		{"PUT", "/api/plan/done", `{"step":"feed"}`},
		{"GET", "/api/plan/calendar", ""},
		{"DELETE", "/api/plan", ""},
		{"PUT", "/api/plan/weekly", `{"days":["sat"],"at":"09:00","recipe":"pan loaf"}`},
		{"POST", "/api/plan/weekly/skip", ""},
		{"DELETE", "/api/plan/weekly", ""},
		{"PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":26}`},
		{"PUT", "/api/mats/shelf/schedule", `{"schedule":[{"from":"06:30","setpoint_c":24.5}]}`},
		{"PUT", "/api/mats/bench/allowed", `{"allowed":true,"cautions_accepted":true}`},
		{"GET", "/api/walk", ""},
		{"POST", "/api/walk/reading", `{"sensor":"i2c-1-0x29"}`},
		{"POST", "/api/walk/draft", walk},
		{"POST", "/api/walk/keep", walk},
		{"GET", "/api/messages", ""},
		{"POST", "/api/message-test", `{"address":"ntfy://ntfy.example/my-kitchen"}`},
		{"PUT", "/api/messages/phone", `{"address":"ntfy://ntfy.example/my-kitchen","about":["peak","faults"],"quiet_from":"22:30","quiet_to":"06:30"}`},
		{"DELETE", "/api/messages/phone", ""},
		{"GET", "/api/reach", ""},
		{"PUT", "/api/reach", `{"open":true,"tls":"self-made","password":"flour and water"}`},
		{"POST", "/api/session", `{"password":"flour and water"}`},
		{"PUT", "/api/password", `{"old":"flour and water","new":"rye and water"}`},
		{"POST", "/api/tokens", `{"name":"home-hub","right":"read"}`},
		{"GET", "/api/tokens", ""},
		{"DELETE", "/api/tokens/home-hub", ""},
	}
}

// TestExamples plays each request against the invented kitchen and holds what
// comes to examples.json: -updateexamples writes it.
func TestExamples(t *testing.T) {
	_, s, _ := newKitchen(t, Opts{Listen: "127.0.0.1:8420", Walk: &madeUpWalk{}, Reach: &heldReach{}, Messages: &heldMessages{}, Household: newFakeHouse(fixedClock)})
	v := &visitor{from: "127.0.0.1:40000"}
	got, id := map[string]example{}, ""
	d := readDescription(t)
	for _, a := range asked() {
		path, body := strings.ReplaceAll(a[1], "{id}", id), strings.ReplaceAll(a[2], "{id}", id)
		r := httptest.NewRequest(a[0], "http://127.0.0.1:8420"+promised(path), strings.NewReader(body))
		r.RemoteAddr = v.from
		if body != "" {
			r.Header.Set("Content-Type", "application/json")
		}
		if v.cookie != nil {
			r.AddCookie(v.cookie)
		}
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		for _, c := range w.Result().Cookies() {
			v.cookie = c
		}
		if w.Code >= 300 {
			t.Errorf("%s %s %s: %d %s", a[0], path, body, w.Code, w.Body)
			continue
		}
		op := operationAt(d, a[0], path)
		e := example{Status: w.Code}
		if body != "" {
			e.Request = trimmed(decoded(t, []byte(body)))
		}
		e.Kind, _, _ = strings.Cut(w.Header().Get("Content-Type"), ";")
		switch {
		case e.Kind == "application/json":
			said := decoded(t, w.Body.Bytes())
			if m, ok := said.(map[string]any); ok {
				id = idOf(m, id)
			}
			e.Response = trimmed(said)
		case strings.HasPrefix(e.Kind, "text/"):
			e.Response = firstLines(w.Body.String())
		}
		got[op] = e
	}
	got["events"] = example{Status: 200, Kind: "text/event-stream", Response: "event: now\ndata: {\"at\":\"2026-03-14T11:42:10Z\",…}\n\n"}
	got["openapi"] = example{Status: 200, Kind: "application/json", Response: map[string]any{"openapi": "3.1.0"}}
	for _, rt := range allRoutes() {
		if op := d.at(rt.path)[strings.ToLower(rt.method)]; got[op.ID].Status == 0 && !op.silent() {
			t.Errorf("%s %s has no example; add a request to asked", rt.method, rt.path)
		}
	}
	text, err := json.MarshalIndent(got, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, '\n')
	if *updateExamples {
		if err := os.WriteFile("examples.json", text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("examples.json")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(text)); diff != "" {
		t.Errorf("examples.json is not what the API says; -updateexamples renews it (-kept +said):\n%s", diff)
	}
}

// silent reports whether an operation takes nothing and says nothing, or only a
// picture: it needs no example.
func (o operation) silent() bool {
	_, nothing := o.Responses["204"]
	return nothing && o.Body == nil || o.ID == "bakePhoto"
}

// operationAt is the operationId of an address.
func operationAt(d description, method, path string) string {
	path, _, _ = strings.Cut(path, "?")
	best := ""
	for _, rt := range allRoutes() {
		if rt.method == method && fits(rt.path, path) && (best == "" || rt.path == path) {
			best = d.at(rt.path)[strings.ToLower(method)].ID
		}
	}
	return best
}

func decoded(t *testing.T, b []byte) any {
	t.Helper()
	var v any
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatalf("%v in %s", err, b)
	}
	return v
}

// idOf is the id of what an answer is about, or of the first plan in it.
func idOf(m map[string]any, otherwise string) string {
	if id, ok := m["id"].(string); ok {
		return id
	}
	if plans, ok := m["plans"].([]any); ok && len(plans) > 0 {
		return plans[0].(map[string]any)["id"].(string)
	}
	return otherwise
}

// trimmed shortens lists, for an example is to be read, and puts invented values
// in the place of what differs from run to run and from machine to machine.
func trimmed(v any) any {
	switch v := v.(type) {
	case []any:
		out := []any{}
		for _, one := range v[:min(len(v), 2)] {
			out = append(out, trimmed(one))
		}
		return out
	case map[string]any:
		for name, one := range v {
			v[name] = trimmed(one)
		}
		for name, invented := range map[string]any{"code": "12345678", "version": "1.0.0", "token": access.TokenPrefix + strings.Repeat("5ca1ab1e", 8)} {
			if _, ok := v[name].(string); ok {
				v[name] = invented
			}
		}
		if list, ok := v["addresses"].([]any); ok && len(list) > 0 {
			v["addresses"] = []any{"https://192.0.2.7:8420", "https://kitchen.local:8420"}
			v["qr"] = []any{"111111100101", "100000101011"}
		}
		return v
	case string:
		return regexp.MustCompile(`ago: \d.*`).ReplaceAllString(v, "")
	}
	return v
}

// firstLines shortens a file.
func firstLines(text string) string {
	lines := strings.SplitAfter(text, "\n")
	return strings.Join(lines[:min(len(lines), 6)], "")
}

// TestDescriptionIsValid has the specification's own schema judge the
// description, and each example the schema beside it, by libraries that are not
// ours (npm: @seriousme/openapi-schema-validator, which carries the schema that
// the OpenAPI Initiative publishes, and ajv).
func TestDescriptionIsValid(t *testing.T) {
	if os.Getenv("LEAVEND_REAL_PEERS") == "" {
		t.Skip("set LEAVEND_REAL_PEERS=1 to have the description validated; it needs Node.js, and npm ci in the folder browser")
	}
	b, err := described()
	if err != nil {
		t.Fatal(err)
	}
	check := func(b []byte) (string, error) {
		file := filepath.Join(t.TempDir(), "openapi.json")
		if err := os.WriteFile(file, b, 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("node", "browser/openapi.mjs", file).CombinedOutput()
		return string(out), err
	}
	if out, err := check(b); err != nil {
		t.Errorf("%v\n%s", err, out)
	} else {
		t.Log(strings.TrimSpace(out))
	}
	// A judge that lets everything pass proves nothing.
	for _, spoil := range [][2]string{{`"may_read":true`, `"may_read":"yes"`}, {`"openapi":"3.1.0","paths"`, `"openapi":"3.1.0","path":{},"paths"`}} {
		if spoilt := bytes.Replace(b, []byte(spoil[0]), []byte(spoil[1]), 1); !bytes.Equal(spoilt, b) {
			if _, err := check(spoilt); err == nil {
				t.Errorf("%s passes", spoil[1])
			}
		} else {
			t.Errorf("%s is not in the description", spoil[0])
		}
	}
}
