package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/url"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/campaign"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/control"
	"leavend/sensor/sim"
)

// TestHostileRequests sends made-up values to every route that openapi.json names
// and every topic that takes a command, at a daemon that runs the invented kitchen on
// real ports. It is seeded; LEAVEND_LONG=1 sends twenty times as much. Nothing
// answers with an error of ours, memory stays bounded, and the mat, whose cautions
// no person has accepted, is never on.
func TestHostileRequests(t *testing.T) {
	requests, messages := 2000, 600
	if campaign.Long() {
		requests, messages = 50_000, 20_000
	}
	h := openHostile(t)
	for range requests {
		h.request(t)
	}
	h.publish(t, messages)
	if code := h.ask(t, "GET", h.page+"/now", nil, "", nil); code != http.StatusOK {
		t.Errorf("afterwards the page answers %d", code)
	}
	if s := h.d.Mat.State(); s.On || s.Mode != control.Off {
		t.Errorf("the mat is %+v", s)
	}
	atRest(t, h.d)
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	t.Logf("%d requests: %v; %d messages; heap %d kB", requests, h.codes, messages, m.HeapInuse>>10)
	if m.HeapInuse > 200<<20 {
		t.Errorf("the heap holds %d MB", m.HeapInuse>>20)
	}
}

// atRest waits for a new reading while the mat stays off.
func atRest(t *testing.T, d *Daemon) {
	t.Helper()
	read := *d.Vessels[0].Status(time.Now()).ReadAt
	leavendtest.Eventually(t, "the jar is read", func() bool { return d.Vessels[0].Status(time.Now()).ReadAt.After(read) })
	if d.Mat.State().On {
		t.Error("the mat is on")
	}
}

// hostile is who attacks a daemon.
type hostile struct {
	d      *Daemon
	page   string // address of the API
	broker string
	rng    *rand.Rand
	client *http.Client
	api    description
	routes []apiRoute
	codes  map[int]int
	wild   float64 // the share of strange values in this request
}

// apiRoute is one act on one path.
type apiRoute struct {
	method, path string
	params       []param
	body         *schema
}

// description is what is read of openapi.json.
type description struct {
	Paths      map[string]map[string]json.RawMessage
	Components struct{ Schemas map[string]*schema }
}

type param struct{ Name, In string }

type schema struct {
	Ref        string `json:"$ref"`
	Type       any
	Enum       []any
	Properties map[string]*schema
	Items      *schema
	OneOf      []*schema
	AnyOf      []*schema
}

func openHostile(t *testing.T) *hostile {
	t.Helper()
	page, broker := freeport.Address(t), freeport.Address(t)
	file := configtest.Write(t, partConfig(filepath.Join(t.TempDir(), "data"), fmt.Sprintf("[web]\nlisten = %q\n", page),
		"[metrics]\non = false\n", fmt.Sprintf("[mqtt]\nlisten = %q\n", broker)))
	conf := configtest.Load(t, file)
	k := invented(t)
	mat, err := k.Mat(sim.Bramble)
	if err != nil {
		t.Fatal(err)
	}
	d, err := New(t.Context(), conf, slog.New(slog.DiscardHandler), Parts{Mat: mat, Note: filepath.Join(conf.DataDir, "mat.json"), Simulated: simulated(k)})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	h := &hostile{
		d: d, page: "http://" + page + "/api/v1", broker: broker, rng: rand.New(rand.NewPCG(18, 9)), codes: map[int]int{},
		client: &http.Client{Timeout: leavendtest.Patience, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }},
	}
	h.learn(t)
	return h
}

// learn reads the description from the daemon itself.
func (h *hostile) learn(t *testing.T) {
	t.Helper()
	var text []byte
	leavendtest.Eventually(t, "the API describes itself", func() bool {
		r, err := h.client.Get(h.page + "/openapi.json")
		if err != nil {
			return false
		}
		defer r.Body.Close()
		text, err = io.ReadAll(r.Body)
		return err == nil && r.StatusCode == http.StatusOK
	})
	if err := json.Unmarshal(text, &h.api); err != nil {
		t.Fatal(err)
	}
	for path, acts := range h.api.Paths {
		for method, raw := range acts {
			var act struct {
				Parameters  []param
				RequestBody struct {
					Content map[string]struct{ Schema *schema }
				}
			}
			if method == "parameters" || path == "/events" || json.Unmarshal(raw, &act) != nil {
				continue // a stream has no end
			}
			r := apiRoute{strings.ToUpper(method), path, act.Parameters, nil}
			if c, ok := act.RequestBody.Content["application/json"]; ok {
				r.body = c.Schema
			}
			h.routes = append(h.routes, r)
		}
	}
	slices.SortFunc(h.routes, func(a, b apiRoute) int { return strings.Compare(a.path+a.method, b.path+b.method) })
	if len(h.routes) < 50 {
		t.Fatalf("only %d routes are described", len(h.routes))
	}
}

// strange are values that mean trouble to some reader.
var strange = []any{
	nil, true, false, 0, -1, 1, 1e308, -1e308, json.Number("1e999"), json.Number("-0"), 9007199254740993, 1 << 62, 0.1, 65536,
	"", " ", "0", "off", "null", "NaN", "Infinity", "-Infinity", "../../../etc/passwd", "..%2f..", "a\x00b", "\ufeff", "\u202etxt", "\ud7ff\uffff", "🍞🍞🍞",
	"'; DROP TABLE feed; --", "<script>alert(1)</script>", "%s%n%x", "2026-01-02T08:00:00Z", "9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z",
	"-9999-01-01T00:00:00Z", "2026-02-30T25:61:61+99:99", "1h", "-1h", "99999999h", "bramble", "mat", "jar", "bowl", "heat", "metric",
	[]any{}, map[string]any{}, []any{nil, []any{[]any{}}}, map[string]any{"": nil},
}

// value makes a value for a schema: mostly one that fits, else a strange one.
func (h *hostile) value(s *schema, name string, depth int) any {
	if s != nil && s.Ref != "" {
		s = h.api.Components.Schemas[s.Ref[strings.LastIndex(s.Ref, "/")+1:]]
	}
	if strings.Contains(name, "accept") || strings.Contains(name, "caution") {
		return h.pick(false, nil, "true", 1, []any{true}) // it stands for a person's word
	}
	if name == "new" { // a password would end our own rights
		return h.pick(nil, "short", strings.Repeat("x", 73), 12345678, []any{"flour and water"})
	}
	if s == nil || depth > 6 || h.rng.Float64() < h.wild {
		return h.oddity()
	}
	for _, of := range [][]*schema{s.OneOf, s.AnyOf} {
		if len(of) > 0 {
			return h.value(of[h.rng.IntN(len(of))], name, depth+1)
		}
	}
	if len(s.Enum) > 0 {
		return s.Enum[h.rng.IntN(len(s.Enum))]
	}
	kind := s.Type
	if all, ok := kind.([]any); ok && len(all) > 0 {
		kind = all[h.rng.IntN(len(all))]
	}
	switch kind {
	case "object":
		return h.object(s, depth)
	case "array":
		list := []any{}
		for range h.rng.IntN(4) {
			list = append(list, h.value(s.Items, name, depth+1))
		}
		return list
	case "boolean":
		return h.rng.IntN(2) == 0
	case "number", "integer":
		return h.pick(h.rng.IntN(200), h.rng.IntN(30), h.rng.Float64()*100, h.rng.IntN(5)-1)
	}
	now := time.Now().UTC()
	return h.pick("rye", "bramble", "2", now.Format(time.RFC3339), now.Add(time.Duration(h.rng.IntN(600)-300)*time.Second).Format(time.RFC3339Nano),
		now.Add(-90*time.Minute).Format(time.RFC3339), now.Add(12*time.Hour).Format(time.RFC3339), "20:00")
}

func (h *hostile) object(s *schema, depth int) map[string]any {
	out, names := map[string]any{}, make([]string, 0, len(s.Properties))
	for name := range s.Properties {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if h.rng.IntN(3) > 0 {
			out[name] = h.value(s.Properties[name], name, depth+1)
		}
	}
	if h.rng.Float64() < h.wild/2 {
		out[fmt.Sprint(h.oddity())] = h.oddity()
	}
	return out
}

func (h *hostile) pick(of ...any) any { return of[h.rng.IntN(len(of))] }

// oddity is a strange value, now and then a large one.
func (h *hostile) oddity() any {
	switch h.rng.IntN(40) {
	case 0:
		return strings.Repeat("é", 1<<h.rng.IntN(15))
	case 1:
		return strings.Repeat("[", 1+h.rng.IntN(2000))
	}
	return strange[h.rng.IntN(len(strange))]
}

// text is a value as it stands in an address.
func (h *hostile) text(name string) string {
	if h.rng.Float64() < h.wild {
		return fmt.Sprint(h.oddity())
	}
	known := map[string][]any{"vessel": {"bramble"}, "mat": {"mat"}, "format": {"csv", "json", "lines"}}[name]
	known = append(known, h.rng.IntN(20), "1", "2", time.Now().Add(-time.Duration(h.rng.IntN(1e6))*time.Second).UTC().Format(time.RFC3339))
	return fmt.Sprint(known[h.rng.IntN(len(known))])
}

// request sends one request and judges the answer.
func (h *hostile) request(t *testing.T) {
	t.Helper()
	r := h.routes[h.rng.IntN(len(h.routes))]
	h.wild = []float64{0, 0.03, 0.3}[h.rng.IntN(3)]
	path, query := r.path, url.Values{}
	for _, p := range r.params {
		if p.In == "path" {
			path = strings.ReplaceAll(path, "{"+p.Name+"}", url.PathEscape(h.text(p.Name)))
		} else if h.rng.IntN(3) > 0 {
			query.Add(p.Name, h.text(p.Name))
		}
	}
	method := r.method
	if h.rng.IntN(20) == 0 {
		method = []string{"GET", "PUT", "POST", "DELETE", "PATCH", "OPTIONS", "HEAD", "TRACE", "BREW"}[h.rng.IntN(9)]
	}
	body, kind := h.body(r.body)
	h.ask(t, method, h.page+path, query, kind, body)
}

// body makes a body, and says what kind it is called.
func (h *hostile) body(s *schema) (body []byte, kind string) {
	kind = "application/json"
	switch h.rng.IntN(40) {
	case 0:
		return nil, kind
	case 1:
		return []byte(strings.Repeat("[", 1<<h.rng.IntN(18))), kind
	case 2:
		return []byte{0xff, 0xfe, '{', 0}, kind
	case 3:
		return []byte(`{"at":"x","at":1}{}`), kind
	case 4:
		return bytes.Repeat([]byte("x"), 1<<h.rng.IntN(24)), fmt.Sprint(h.pick("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "", "application/json; charset=utf-16"))
	}
	if s == nil {
		return nil, ""
	}
	body, err := json.Marshal(h.value(s, "", 0))
	if err != nil { // a number that JSON does not have
		return []byte("1e999"), kind
	}
	if h.rng.IntN(15) == 0 && len(body) > 1 {
		body = body[:h.rng.IntN(len(body))]
	}
	return body, kind
}

// ask sends one request; an error of the daemon's fails the test.
func (h *hostile) ask(t *testing.T, method, address string, query url.Values, kind string, body []byte) int {
	t.Helper()
	if len(query) > 0 {
		address += "?" + query.Encode()
	}
	r, err := http.NewRequest(method, address, bytes.NewReader(body))
	if err != nil {
		return 0 // the client takes no such address
	}
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	answer, err := h.client.Do(r)
	if err != nil {
		if len(address) < 8000 && len(body) < 1<<18 { // a header or body of more may be cut off
			t.Errorf("%s %.300s: %v\n%.300s", method, address, err, body)
		}
		return 0
	}
	defer answer.Body.Close()
	said, err := io.ReadAll(io.LimitReader(answer.Body, 64<<20))
	h.codes[answer.StatusCode]++
	if answer.StatusCode >= 500 || err != nil && answer.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("%s %.300s = %d %.200s, %v\n%.500s", method, address, answer.StatusCode, said, err, body)
	}
	return answer.StatusCode
}

// publish sends messages to each topic that takes a command, and to others.
func (h *hostile) publish(t *testing.T, n int) {
	t.Helper()
	o := paho.NewClientOptions().AddBroker("tcp://" + h.broker).SetClientID("stranger").SetMaxReconnectInterval(time.Second)
	c := paho.NewClient(o)
	if tok := c.Connect(); !tok.WaitTimeout(leavendtest.Patience) || tok.Error() != nil {
		t.Fatal(tok.Error())
	}
	defer c.Disconnect(100)
	topics := []string{"leavend/status", "leavend/bramble/state", "leavend/mat/event", "homeassistant/status", "$SYS/x", "leavend//set", "leavend/unknown/fed/set"}
	for _, of := range []string{"bramble", "mat"} {
		for _, kind := range []string{"fed", "ready", "seen", "setpoint", "mode"} {
			topics = append(topics, "leavend/"+of+"/"+kind+"/set")
		}
	}
	for i := range n {
		payload := fmt.Sprint(h.oddity())
		if i%3 == 0 {
			payload = fmt.Sprint(h.pick("PRESS", "heat", "26", "31.5", "1e309", "20:00", "off", "0x1p4", "\xff\xfe"))
		}
		tok := c.Publish(topics[h.rng.IntN(len(topics))], byte(h.rng.IntN(3)), h.rng.IntN(4) == 0, payload)
		if i%50 == 0 {
			tok.WaitTimeout(5 * time.Second) // one that the broker refuses may close the connection
		}
		if h.d.Mat.State().On {
			t.Fatalf("the mat is on after %q", payload)
		}
	}
	leavendtest.Eventually(t, "our own client is connected", h.d.client.Connected)
}
