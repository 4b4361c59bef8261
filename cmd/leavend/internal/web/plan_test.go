package web

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func TestPlanning(t *testing.T) {
	house, s, v := newKitchen(t, Opts{})
	ready := house.clock().Add(36 * time.Hour).UTC().Format(time.RFC3339)
	if code, got := v.do("GET", "/api/plan", ""); code != 200 || got["chosen"] != nil || len(got["recipes"].([]any)) == 0 {
		t.Errorf("before any plan: %d %v", code, got)
	}
	code, got := v.do("GET", "/api/plans?ready="+ready+"&cooled=true&have_g=80", "")
	if code != 200 || len(got["plans"].([]any)) != 2 {
		t.Fatalf("plans: %d %v", code, got)
	}
	id := got["plans"].([]any)[0].(map[string]any)["id"].(string)
	for _, tt := range []struct {
		method, path, body string
		want               int
	}{
		{"GET", "/api/plans?ready=soon", "", 400},
		{"GET", "/api/plans?ready=" + ready + "&cooled=perhaps", "", 400},
		{"GET", "/api/plans?ready=" + ready + "&have_g=-1", "", 400},
		{"GET", "/api/plans", "", 409}, // now is too late
		{"GET", "/api/plan/calendar", "", 404},
		{"PUT", "/api/plan/done", `{"step":"feed"}`, 404},
		{"PUT", "/api/plan", `{"id":"nothing"}`, 409},
		{"PUT", "/api/plan", `[]`, 400},
		{"PUT", "/api/plan", `{"id":"` + id + `"}`, 204},
		{"GET", "/api/plan", "", 200},
		{"PUT", "/api/plan/done", `{"step":"eat"}`, 404},
		{"PUT", "/api/plan/done", `{"step":"feed"}`, 204},
	} {
		if code, got := v.do(tt.method, tt.path, tt.body); code != tt.want {
			t.Errorf("%s %s %s: %d %v, want %d", tt.method, tt.path, tt.body, code, got, tt.want)
		}
	}
	_, got = v.do("GET", "/api/plan", "")
	chosen := got["chosen"].(map[string]any)
	if step := chosen["plan"].(map[string]any)["steps"].([]any)[0].(map[string]any); step["done"] != true {
		t.Errorf("the feed is not done: %v", step)
	}
	if err := v.d.check(v.d.Components.Schemas["ChosenPlan"], chosen, "chosen"); err != nil {
		t.Error(err)
	}
	r := httptest.NewRequest("GET", "/api/plan/calendar", nil)
	r.Host, r.RemoteAddr = "localhost", "127.0.0.1:1"
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	if w.Code != 200 || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/calendar") || !strings.HasPrefix(w.Body.String(), "BEGIN:VCALENDAR\r\n") {
		t.Errorf("calendar: %d %v %q", w.Code, w.Header(), w.Body)
	}
	if code, _ := v.do("DELETE", "/api/plan", ""); code != 204 {
		t.Errorf("drop: %d", code)
	}
	if _, got := v.do("GET", "/api/plan", ""); got["chosen"] != nil {
		t.Errorf("after the drop: %v", got)
	}
}
