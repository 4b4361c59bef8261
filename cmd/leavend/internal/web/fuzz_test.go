package web

import (
	"encoding/json"
	"log/slog"
	"math"
	"net/http/httptest"
	"strings"
	"testing"
)

// FuzzRequests sends any body to any route that changes something, with all
// rights, and checks what must hold whatever comes: no panic, no answer of
// 500, no setpoint beyond the limits, no cutoff cleared that holds.
func FuzzRequests(f *testing.F) {
	for i, body := range []string{
		`{}`, `{"kept_g":20,"flours":[{"kind":"rye","grams":40}],"water_g":44}`, `{"setpoint_c":26}`, `{"setpoint_c":1e308}`, `{"setpoint_c":-0}`,
		`{"schedule":[{"from":"07:00","setpoint_c":24}]}`, `{"schedule":[{"from":"07:00","setpoint_c":9e99}]}`, `{"allowed":true,"cautions_accepted":true}`,
		`{"stars":3,"note":"x","photo":"/9j/"}`, `{"password":"guess"}`, `{"new":"x"}`, `[[[[[[`, `{"setpoint_c":26,"setpoint_c":99}`, "\xff\xfe{}", `null`, `"x"`, `{"SETPOINT_C":99}`,
	} {
		f.Add(uint8(i), "shelf", "cutoff-1", body, "application/json")
	}
	f.Add(uint8(3), "..%2f..", "%00", `{}`, "application/json; charset=utf-8")
	var changing []route
	for _, rt := range allRoutes() {
		if rt.method != "GET" && rt.path != "/api/password" && rt.path != "/api/session" { // those spend a bcrypt a try
			changing = append(changing, rt)
		}
	}
	s, err := New(newFakeHouse(fixedClock).backend(), Opts{Now: fixedClock, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, which uint8, a, b, body, kind string) {
		house := newFakeHouse(fixedClock)
		house.trip(true)
		s.snaps.watch, s.mux = house, s.routes(house.backend())
		rt := changing[int(which)%len(changing)]
		path := strings.NewReplacer("{vessel}", "bramble", "{mat}", a, "{feed}", b, "{fault}", b).Replace(rt.path)
		r := httptest.NewRequest(rt.method, "/", strings.NewReader(body))
		r.Host, r.RemoteAddr, r.URL.Path = "localhost", "127.0.0.1:1", path
		r.Header.Set("Content-Type", kind)
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if w.Code >= 500 {
			t.Errorf("%s %q: %d %s", rt.method, path, w.Code, w.Body)
		}
		for _, c := range house.set {
			if !(c >= 18 && c <= 30) || math.IsNaN(c) {
				t.Errorf("setpoint %g got through", c)
			}
		}
		for _, m := range house.mats {
			if m.Allowed && !m.Accepted {
				t.Error("a mat heats without the cautions accepted")
			}
		}
		if len(house.acked) > 0 || len(house.mats[0].Faults) != 1 {
			t.Error("a cutoff that holds was cleared")
		}
	})
}

// FuzzReading asks with any parameters; answers must be JSON.
func FuzzReading(f *testing.F) {
	f.Add("bramble", "2026-03-14T00:00:00Z", "2026-03-14T11:00:00Z", "500", "170")
	f.Add("x", "9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z", "-1", "1e400")
	f.Add("bramble", "2026-03-14T11:00:00.000000001Z", "2026-03-14T11:00:00.000000002Z", "2", "NaN")
	house := newFakeHouse(fixedClock)
	s, err := New(house.backend(), Opts{Now: fixedClock, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, vessel, from, to, max, need string) {
		for _, what := range []string{"window", "book", "suggestion", "record", "refused"} {
			r := httptest.NewRequest("GET", "/", nil)
			r.Host, r.RemoteAddr, r.URL.Path = "localhost", "127.0.0.1:1", "/api/vessels/"+vessel+"/"+what
			q := r.URL.Query()
			q.Set("from", from)
			q.Set("to", to)
			q.Set("before", to)
			q.Set("max", max)
			q.Set("limit", max)
			q.Set("need_g", need)
			r.URL.RawQuery = q.Encode()
			w := httptest.NewRecorder()
			s.Handler().ServeHTTP(w, r)
			if w.Code >= 500 {
				t.Errorf("%s: %d %s", what, w.Code, w.Body)
			}
			if w.Code != 301 && w.Code != 307 && w.Code != 404 && !json.Valid(w.Body.Bytes()) {
				t.Errorf("%s: %d is no JSON: %s", what, w.Code, w.Body)
			}
		}
	})
}
