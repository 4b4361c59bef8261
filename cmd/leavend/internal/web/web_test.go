package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/bcrypt"
)

func fixedClock() time.Time { return fakeStart }

// visitor is a client that keeps its cookie and checks every answer against
// openapi.json.
type visitor struct {
	t      *testing.T
	h      http.Handler
	d      description
	from   string // remote address
	host   string
	cookie *http.Cookie
	header http.Header
}

func newKitchen(t *testing.T, opts Opts) (*fakeHouse, *Server, *visitor) {
	t.Helper()
	if opts.Now == nil {
		opts.Now = fixedClock
	}
	opts.Log = slog.New(slog.DiscardHandler)
	house := newFakeHouse(fixedClock)
	s, err := New(house.backend(), opts)
	if err != nil {
		t.Fatal(err)
	}
	s.sessions.keys.Cost = bcrypt.MinCost // the tests sign in often
	return house, s, &visitor{t: t, h: s.Handler(), d: readDescription(t), from: "127.0.0.1:40000", host: "127.0.0.1:8420", header: http.Header{}}
}

// do sends one request and returns the status and the decoded answer.
func (v *visitor) do(method, path, body string) (int, map[string]any) {
	v.t.Helper()
	r := httptest.NewRequest(method, "http://"+v.host+path, strings.NewReader(body))
	r.RemoteAddr = v.from
	r.Header = v.header.Clone()
	if body != "" && r.Header.Get("Content-Type") == "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if v.cookie != nil {
		r.AddCookie(v.cookie)
	}
	w := httptest.NewRecorder()
	v.h.ServeHTTP(w, r)
	for _, c := range w.Result().Cookies() {
		v.cookie = c
	}
	var got map[string]any
	if strings.Contains(w.Header().Get("Content-Type"), "json") && w.Body.Len() > 0 {
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
			v.t.Fatalf("%s %s: %v in %s", method, path, err, w.Body)
		}
	}
	v.matches(method, path, w)
	return w.Code, got
}

// matches holds an answer against its description.
func (v *visitor) matches(method, path string, w *httptest.ResponseRecorder) {
	v.t.Helper()
	path, _, _ = strings.Cut(path, "?")
	path = strings.Replace(path, "/api/v1/", "/api/", 1)
	for _, rt := range allRoutes() {
		if rt.method != method || !fits(rt.path, path) {
			continue
		}
		reply, ok := v.d.at(rt.path)[strings.ToLower(method)].Responses[strconv.Itoa(w.Code)]
		if !ok {
			if w.Code == http.StatusForbidden || w.Code == http.StatusMisdirectedRequest { // of every route, by the guard
				return
			}
			v.t.Errorf("%s %s: %d is not described", method, path, w.Code)
			return
		}
		kind, _, _ := strings.Cut(w.Header().Get("Content-Type"), ";")
		content, ok := reply.Content[kind]
		if !ok && (w.Code != http.StatusNoContent || kind != "") {
			v.t.Errorf("%s %s: %d with %q is not described", method, path, w.Code, kind)
		}
		if strings.Contains(kind, "json") {
			var any any
			_ = json.Unmarshal(w.Body.Bytes(), &any)
			if err := v.d.check(content.Schema, any, path); err != nil {
				v.t.Errorf("%s %s: %v", method, path, err)
			}
		}
	}
}

func fits(pattern, path string) bool {
	a, b := strings.Split(pattern, "/"), strings.Split(path, "/")
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] && !strings.HasPrefix(a[i], "{") {
			return false
		}
	}
	return true
}

func TestReading(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	house.trip(true)
	feed := house.feeds["bramble"][700].ID
	for _, path := range []string{
		"/api/openapi.json", "/api/session", "/api/now", "/api/setup",
		"/api/vessels/bramble/window", "/api/vessels/bramble/window?from=2025-03-14T00:00:00Z&max=500",
		"/api/vessels/dough/window", "/api/vessels/bramble/record", "/api/vessels/pilot/refused", "/api/vessels/bramble/refused",
		"/api/vessels/bramble/book?limit=200", "/api/vessels/pilot/book", "/api/vessels/bramble/suggestion", "/api/vessels/bramble/suggestion?need_g=170",
		"/api/vessels/bramble/feeds/" + feed + "/curve",
	} {
		if code, got := v.do("GET", path, ""); code != 200 || len(got) == 0 {
			t.Errorf("GET %s = %d, %d members", path, code, len(got))
		}
	}
	for path, want := range map[string]int{
		"/api/vessels/unknown/window":                           404,
		"/api/vessels/bramble/feeds/f0/curve":                   404,
		"/api/vessels/bramble/window?max=2001":                  400,
		"/api/vessels/bramble/window?max=1":                     400,
		"/api/vessels/bramble/window?from=yesterday":            400,
		"/api/vessels/bramble/window?from=2030-01-01T00:00:00Z": 400,
		"/api/vessels/bramble/suggestion?need_g=NaN":            400,
		"/api/vessels/bramble/suggestion?need_g=-1":             400,
		"/api/vessels/bramble/book?limit=0":                     400,
		"/api/nothing":                                          404,
	} {
		if code, got := v.do("GET", path, ""); code != want || got["code"] == nil {
			t.Errorf("GET %s = %d %v, want %d with a code", path, code, got, want)
		}
	}
	if code, _ := v.do("PATCH", "/api/now", ""); code != 405 {
		t.Errorf("PATCH /api/now = %d, want 405", code)
	}
}

func TestWindowHasNoMoreThanMax(t *testing.T) {
	_, _, v := newKitchen(t, Opts{})
	_, got := v.do("GET", "/api/vessels/bramble/window?from=2025-03-15T00:00:00Z&to=2026-03-14T11:00:00Z&max=400", "")
	if n := len(got["at"].([]any)); n > 400 || n < 300 {
		t.Errorf("%d points, want 300 to 400", n)
	}
}

func TestFeedAndUndo(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	before := len(house.feeds["bramble"])
	code, made := v.do("POST", "/api/vessels/bramble/feeds", `{}`)
	if code != 201 || made["id"] == "" || made["undo_until"] == nil {
		t.Fatalf("feed = %d %v", code, made)
	}
	_, now := v.do("GET", "/api/now", "")
	if got := now["vessels"].([]any)[0].(map[string]any)["feed"].(map[string]any)["id"]; got != made["id"] {
		t.Errorf("the last feed is %v, want %v", got, made["id"])
	}
	id := made["id"].(string)
	full := `{"kept_g":20,"flours":[{"kind":"rye","grams":40}],"water_g":44.5,"discard_g":0,"water_temp_c":31,"clean_jar":true,"note":"häufig"}`
	if code, got := v.do("PUT", "/api/vessels/bramble/feeds/"+id, full); code != 200 || got["corrected"] != true || got["water_g"] != 44.5 {
		t.Errorf("correct = %d %v", code, got)
	}
	if code, _ := v.do("DELETE", "/api/vessels/bramble/feeds/"+id, ""); code != 204 {
		t.Errorf("undo = %d, want 204", code)
	}
	if code, _ := v.do("DELETE", "/api/vessels/bramble/feeds/"+id, ""); code != 404 {
		t.Errorf("undo again = %d, want 404", code)
	}
	if got := len(house.feeds["bramble"]); got != before {
		t.Errorf("%d feeds, want %d", got, before)
	}
}

func TestBodiesThatAreRefused(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	feeds := "/api/vessels/bramble/feeds"
	tests := []struct {
		name, method, path, body string
		want                     int
	}{
		{"not JSON", "POST", feeds, `fed`, 400},
		{"an unknown name", "POST", feeds, `{"flour_g":50}`, 400},
		{"two values", "POST", feeds, `{}{}`, 400},
		{"what only the curve tells", "POST", feeds, `{"outcome":{"rise_ratio":3}}`, 400},
		{"a negative weight", "POST", feeds, `{"kept_g":-1}`, 422},
		{"a year typed as grams", "POST", feeds, `{"water_g":20260}`, 422},
		{"boiling over", "POST", feeds, `{"water_temp_c":101}`, 422},
		{"tomorrow", "POST", feeds, `{"at":"2026-03-15T11:00:00Z"}`, 422},
		{"before there were boards", "POST", feeds, `{"at":"1066-03-15T11:00:00Z"}`, 422},
		{"nine flours", "POST", feeds, `{"flours":[` + strings.Repeat(`{"kind":"rye","grams":1},`, 8) + `{"kind":"rye","grams":1}]}`, 422},
		{"a note without end", "POST", feeds, `{"note":"` + strings.Repeat("x", 2001) + `"}`, 422},
		{"too large", "POST", feeds, `{"note":"` + strings.Repeat("x", 20_000) + `"}`, 413},
		{"no such jar", "POST", "/api/vessels/x/feeds", `{}`, 404},
		{"six stars", "POST", "/api/vessels/bramble/bakes", `{"stars":6}`, 422},
		{"a photo that is none", "POST", "/api/vessels/bramble/bakes", `{"photo":"PHN2Zz4="}`, 422},
		{"a loaf that is not there", "PUT", "/api/vessels/bramble/bakes/b99", `{"stars":3}`, 404},
		{"discard that does nothing", "POST", "/api/vessels/bramble/discard", `{"act":"thrown","grams":5}`, 422},
		{"discard without a weight", "POST", "/api/vessels/bramble/discard", `{"act":"used"}`, 422},
		{"an emptied jar with a weight", "POST", "/api/vessels/bramble/discard", `{"act":"emptied","grams":5}`, 422},
		{"a move that is not there", "DELETE", "/api/vessels/bramble/discard/m99", ``, 404},
		{"no target time", "PUT", "/api/vessels/bramble/wish", `{}`, 422},
		{"an hour that is past", "PUT", "/api/vessels/bramble/wish", `{"at":"2020-01-01T00:00:00Z"}`, 422},
		{"an hour in a week", "PUT", "/api/vessels/bramble/wish", `{"at":"2099-01-01T00:00:00Z"}`, 422},
		{"an hour that is none", "PUT", "/api/vessels/bramble/wish", `{"at":"tomorrow"}`, 400},
		{"neither in nor out of the fridge", "PUT", "/api/vessels/bramble/fridge", `{}`, 422},
		{"a message that is not repeated", "POST", "/api/asks/top~bramble/seen", ``, 404},
		{"no setpoint", "PUT", "/api/mats/shelf/setpoint", `{}`, 422},
		{"null setpoint", "PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":null}`, 422},
		{"text for a setpoint", "PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":"26"}`, 400},
		{"just above the limit", "PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":30.0000001}`, 422},
		{"just below the limit", "PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":17.99}`, 422},
		{"beyond all numbers", "PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":1e999}`, 400},
		{"NaN", "PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":NaN}`, 400},
		{"no such mat", "PUT", "/api/mats/x/setpoint", `{"setpoint_c":25}`, 404},
		{"a step above the limit", "PUT", "/api/mats/shelf/schedule", `{"schedule":[{"from":"07:00","setpoint_c":31}]}`, 422},
		{"a step at no time", "PUT", "/api/mats/shelf/schedule", `{"schedule":[{"from":"7:00","setpoint_c":25}]}`, 422},
		{"a step at 24:00", "PUT", "/api/mats/shelf/schedule", `{"schedule":[{"from":"24:00","setpoint_c":25}]}`, 422},
		{"one hour twice", "PUT", "/api/mats/shelf/schedule", `{"schedule":[{"from":"07:00","setpoint_c":25},{"from":"07:00","setpoint_c":26}]}`, 422},
		{"a holiday to no day", "PUT", "/api/holiday", `{"back":"Friday"}`, 422},
		{"a holiday that ends before it begins", "PUT", "/api/holiday", `{"from":"2026-03-20","back":"2026-03-18"}`, 422},
		{"a recipe without flour", "PUT", "/api/recipes/rolls", `{"name":"rolls","stages":[{"name":"mix","kind":"hands","minutes":20}]}`, 422},
		{"a recipe without stages", "PUT", "/api/recipes/rolls", `{"name":"rolls","flours":[{"kind":"wheat","grams":500}]}`, 422},
		{"no such recipe", "DELETE", "/api/recipes/rolls", ``, 404},
		{"a holiday into the past", "PUT", "/api/holiday", `{"back":"2020-01-01"}`, 422},
		{"heat without the cautions", "PUT", "/api/mats/bench/allowed", `{"allowed":true}`, 409},
		{"neither yes nor no", "PUT", "/api/mats/bench/allowed", `{}`, 422},
		{"no such fault", "POST", "/api/faults/x/acknowledgement", ``, 404},
	}
	before, _ := json.Marshal(house.mats)
	count := len(house.feeds["bramble"])
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			v.t = t
			if code, got := v.do(tt.method, tt.path, tt.body); code != tt.want || got["detail"] == nil {
				t.Errorf("%d %v, want %d with a detail", code, got, tt.want)
			}
		})
	}
	v.t = t
	v.header.Set("Content-Type", "text/plain")
	if code, _ := v.do("POST", feeds, `{}`); code != 415 {
		t.Errorf("a body that a form could send: %d, want 415", code)
	}
	after, _ := json.Marshal(house.mats)
	if !bytes.Equal(before, after) || len(house.feeds["bramble"]) != count || len(house.set) != 0 {
		t.Error("a refused request changed something")
	}
}

func TestWarmth(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	if code, _ := v.do("PUT", "/api/mats/shelf/setpoint", `{"setpoint_c":30}`); code != 204 || house.mats[0].SetpointC != 30 {
		t.Errorf("setpoint at the limit = %d, holds %v", code, house.mats[0].SetpointC)
	}
	if code, _ := v.do("PUT", "/api/mats/shelf/schedule", `{"schedule":[{"from":"06:30","setpoint_c":24.5}]}`); code != 204 || len(house.mats[0].Steps) != 1 {
		t.Errorf("schedule = %d, holds %v", code, house.mats[0].Steps)
	}
	if code, _ := v.do("PUT", "/api/mats/bench/allowed", `{"allowed":true,"cautions_accepted":true}`); code != 204 || !house.mats[1].Allowed {
		t.Errorf("allow = %d", code)
	}
	if code, _ := v.do("PUT", "/api/mats/bench/allowed", `{"allowed":false}`); code != 204 || house.mats[1].Allowed {
		t.Errorf("forbid = %d", code)
	}
}

func TestACutoffThatHoldsIsNotCleared(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	house.trip(true)
	code, got := v.do("POST", "/api/faults/cutoff-1/acknowledgement", "")
	if code != 409 || got["code"] != "holds" || !strings.Contains(got["detail"].(string), "32.9") {
		t.Errorf("acknowledge a cutoff that holds = %d %v, want 409 with the reason", code, got)
	}
	if len(house.acked) != 0 || len(house.mats[0].Faults) != 1 {
		t.Error("the cutoff was cleared while it holds")
	}
	house.trip(false)
	if code, _ := v.do("POST", "/api/faults/cutoff-1/acknowledgement", ""); code != 204 || len(house.acked) != 1 {
		t.Errorf("acknowledge = %d, %v", code, house.acked)
	}
}

func TestPhoto(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	code, made := v.do("POST", "/api/vessels/bramble/bakes", `{"stars":5,"note":"Good.","photo":"/9j/4AAQ"}`)
	if code != 201 || made["has_photo"] != true || made["photo"] != nil {
		t.Fatalf("bake = %d %v", code, made)
	}
	if code, _ := v.do("GET", "/api/vessels/bramble/bakes/"+made["id"].(string)+"/photo", ""); code != 200 {
		t.Errorf("photo = %d", code)
	}
	if len(house.photos) != 1 {
		t.Error("the photo was not kept")
	}
}

func TestLoavesAreCorrected(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	bakes := "/api/vessels/bramble/bakes"
	_, made := v.do("POST", bakes, `{"stars":3,"note":"flat"}`)
	one := bakes + "/" + made["id"].(string)
	if code, got := v.do("PUT", one, `{"stars":4,"note":"flat, and good"}`); code != 200 || got["corrected"] != true || got["stars"] != 4.0 || got["at"] != made["at"] {
		t.Errorf("correct = %d %v", code, got)
	}
	if code, _ := v.do("DELETE", one, ""); code != 204 || len(house.bakes) != 1 {
		t.Errorf("take back = %d, %d loaves are left, want 1", code, len(house.bakes))
	}
}

func TestDiscardFridgeAndSeen(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	_, move := v.do("POST", "/api/vessels/bramble/discard", `{"act":"used","grams":120,"note":"crackers"}`)
	if _, book := v.do("GET", "/api/vessels/bramble/book", ""); len(book["discard_moves"].([]any)) != 1 {
		t.Errorf("the journal shows %v", book["discard_moves"])
	}
	if code, _ := v.do("DELETE", "/api/vessels/bramble/discard/"+move["id"].(string), ""); code != 204 || len(house.moves) != 0 {
		t.Errorf("take back = %d, %v", code, house.moves)
	}
	stage := func() any {
		_, now := v.do("GET", "/api/now", "")
		return now["vessels"].([]any)[0].(map[string]any)["stage"]
	}
	if code, _ := v.do("PUT", "/api/vessels/bramble/fridge", `{"in":true}`); code != 204 || stage() != "asleep" {
		t.Errorf("into the fridge = %d, stage %v", code, stage())
	}
	if code, _ := v.do("PUT", "/api/vessels/bramble/fridge", `{"in":false}`); code != 204 || stage() == "asleep" {
		t.Errorf("out of the fridge = %d, stage %v", code, stage())
	}
	used := func() any {
		_, now := v.do("GET", "/api/now", "")
		return now["vessels"].([]any)[0].(map[string]any)["used"]
	}
	if code, made := v.do("PUT", "/api/vessels/bramble/used", `{"how":"used"}`); code != 200 || made["undo_until"] == nil || used() == nil {
		t.Errorf("used = %d %v, the page shows %v", code, made, used())
	}
	if code, _ := v.do("DELETE", "/api/vessels/bramble/used", ""); code != 204 || used() != nil {
		t.Errorf("taken back = %d, the page shows %v", code, used())
	}
	house.asks = []Ask{{ID: "top~bramble", Text: "Bramble is on top now.", Since: fakeStart}}
	if _, now := v.do("GET", "/api/now", ""); len(now["asks"].([]any)) != 1 {
		t.Errorf("asked: %v", now["asks"])
	}
	if code, _ := v.do("POST", "/api/asks/top~bramble/seen", ""); code != 204 || len(house.asks) != 0 {
		t.Errorf("seen = %d, still asked: %v", code, house.asks)
	}
}

func TestNewStarterBeginsAndIsTakenBack(t *testing.T) {
	house, _, v := newKitchen(t, Opts{})
	starters := "/api/vessels/bramble/starters"
	last := house.feeds["bramble"][len(house.feeds["bramble"])-1]
	code, made := v.do("POST", starters, fmt.Sprintf(`{"feed":%q,"note":"the old one was mouldy"}`, last.ID))
	if want := last.At.Format(time.RFC3339Nano); code != 201 || made["at"] != want {
		t.Errorf("began = %d %v, want at %v", code, made, want)
	}
	if _, book := v.do("GET", "/api/vessels/bramble/book", ""); len(book["starters"].([]any)) != 1 {
		t.Errorf("the journal shows %v", book["starters"])
	}
	if code, _ := v.do("DELETE", starters+"/"+made["id"].(string), ""); code != 204 || len(house.starters) != 0 {
		t.Errorf("take back = %d, %v", code, house.starters)
	}
	for body, want := range map[string]int{`{}`: 201, `{"feed":"f0"}`: 404, `{"at":"2026-03-01T00:00:00Z"}`: 400, fmt.Sprintf(`{"note":%q}`, strings.Repeat("x", 2001)): 422} {
		if code, got := v.do("POST", starters, body); code != want {
			t.Errorf("%.40s = %d %v, want %d", body, code, got, want)
		}
	}
}

func TestRealIsAlwaysJSON(t *testing.T) {
	for v, want := range map[float64]string{
		math.NaN(): "null", math.Inf(1): "null", math.Inf(-1): "null", 0: "0", math.Copysign(0, -1): "0", 25.4: "25.4",
		1.98765: "1.9877", -0.00001: "0", 1e300: "1e+300", 123456789: "123456789",
	} {
		got, err := json.Marshal(Real(v))
		if err != nil || string(got) != want {
			t.Errorf("Real(%g) = %s, %v, want %s", v, got, err, want)
		}
	}
	got, err := json.Marshal(Column{1, math.NaN(), 2.5})
	if err != nil || string(got) != "[1,null,2.5]" {
		t.Errorf("Column = %s, %v", got, err)
	}
}

func TestThePageItself(t *testing.T) {
	_, s, _ := newKitchen(t, Opts{})
	get := func(path string, header ...string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("GET", "http://localhost"+path, nil)
		for i := 0; i < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		return w
	}
	w := get("/", "Accept-Encoding", "gzip, br")
	if w.Code != 200 || w.Header().Get("Content-Encoding") != "gzip" || w.Header().Get("Content-Type") != "text/html; charset=utf-8" {
		t.Fatalf("the page: %d %v", w.Code, w.Header())
	}
	if csp := w.Header().Get("Content-Security-Policy"); strings.Contains(csp, "unsafe") || !strings.Contains(csp, "default-src 'none'") {
		t.Errorf("policy %q", csp)
	}
	again := get("/", "If-None-Match", w.Header().Get("ETag"))
	if again.Code != 304 || again.Body.Len() != 0 {
		t.Errorf("unchanged page: %d with %d bytes", again.Code, again.Body.Len())
	}
	if plain := get("/", "Accept-Encoding", "gzip;q=0"); plain.Header().Get("Content-Encoding") != "" || !strings.Contains(plain.Body.String(), "<!doctype html>") {
		t.Error("gzip was sent to a browser that refuses it")
	}
	for _, path := range []string{"/page.go", "/../page.go", "/vendor/", "/nothing"} {
		if w := get(path); w.Code == 200 {
			t.Errorf("%s = %d", path, w.Code)
		}
	}
	var shell struct{ Files []string }
	if err := json.Unmarshal(get("/shell.json").Body.Bytes(), &shell); err != nil || len(shell.Files) < 10 {
		t.Errorf("shell %v, %v", shell.Files, err)
	}
	for _, name := range shell.Files {
		if w := get("/" + name); w.Code != 200 || strings.Contains(w.Header().Get("Content-Type"), "octet") {
			t.Errorf("%s = %d %s", name, w.Code, w.Header().Get("Content-Type"))
		}
	}
	w = get("/", "Accept-Encoding", "identity")
	script := regexp.MustCompile(`(?s)<script>(.*?)</script>`).FindSubmatch(w.Body.Bytes())
	if script == nil {
		t.Fatal("no script stands in the document")
	}
	sum := sha256.Sum256(script[1])
	if csp := w.Header().Get("Content-Security-Policy"); !strings.Contains(csp, "script-src 'self' 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"';") {
		t.Errorf("the policy does not name the document's script: %s", csp)
	}
	if body, _ := io.ReadAll(w.Body); strings.Contains(string(body), "<style") || strings.Contains(string(body), "style=") || strings.Contains(string(body), "onclick") {
		t.Error("the page has inline style or script, which its policy forbids")
	}
}
