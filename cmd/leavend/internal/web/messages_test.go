package web

import (
	"context"
	"slices"
	"strings"
	"sync"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

// heldMessages keeps recipients in memory. An address that holds
// "unreachable" reaches no recipient.
type heldMessages struct {
	mu    sync.Mutex // guards what follows
	all   []Recipient
	tried []string
	began int
}

func (m *heldMessages) Recipients(context.Context) (Recipients, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return Recipients{All: slices.Clone(m.all), SleepFrom: "22:30", SleepTo: "06:30"}, nil
}

func (m *heldMessages) TryAddress(_ context.Context, address string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.tried = append(m.tried, address)
	if strings.Contains(address, "unreachable") {
		return &failure.Refusal{Code: "tell", Say: text.Literal("The test was not taken: its server refuses the connection.")}
	}
	return nil
}

func (m *heldMessages) SetRecipient(_ context.Context, r Recipient, address string) (func(), error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	r.Kind, _, _ = strings.Cut(address, "://")
	m.all = append(slices.DeleteFunc(m.all, func(have Recipient) bool { return have.Name == r.Name }), r)
	return func() { m.began++ }, nil
}

func (m *heldMessages) RemoveRecipient(_ context.Context, name string) (func(), error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	before := len(m.all)
	if m.all = slices.DeleteFunc(m.all, func(have Recipient) bool { return have.Name == name }); len(m.all) == before {
		return nil, failure.ErrUnknown
	}
	return func() { m.began++ }, nil
}

// TestMessageRoutes checks each answer against openapi.json, and that nothing odd
// reaches the configuration.
func TestMessageRoutes(t *testing.T) {
	m := &heldMessages{}
	_, _, v := newKitchen(t, Opts{Messages: m})
	good := `{"address":"ntfy://ntfy.example/x","about":["peak"],"quiet_from":"22:30","quiet_to":"06:30"}`
	for _, c := range []struct {
		method, path, body string
		want               int
	}{
		{"GET", "/api/messages", "", 200},
		{"POST", "/api/message-test", `{"address":"ntfy://ntfy.example/x"}`, 204},
		{"POST", "/api/message-test", `{"address":"ntfy://unreachable.example/x"}`, 409},
		{"POST", "/api/message-test", `{"address":"ntfy://a\nb"}`, 422},
		{"PUT", "/api/messages/phone", good, 204},
		{"PUT", "/api/messages/Phone", good, 422},
		{"PUT", "/api/messages/phone", strings.Replace(good, `"peak"`, `"weather"`, 1), 422},
		{"PUT", "/api/messages/phone", strings.Replace(good, `["peak"]`, `[]`, 1), 422},
		{"PUT", "/api/messages/phone", strings.Replace(good, `"22:30"`, `""`, 1), 422},
		{"GET", "/api/messages", "", 200},
		{"DELETE", "/api/messages/phone", "", 204},
		{"DELETE", "/api/messages/phone", "", 404},
	} {
		if code, got := v.do(c.method, c.path, c.body); code != c.want {
			t.Errorf("%s %s %s: %d %v, want %d", c.method, c.path, c.body, code, got, c.want)
		}
	}
	if m.began != 2 {
		t.Errorf("the daemon was started again %d times, want 2", m.began)
	}
	_, _, bare := newKitchen(t, Opts{})
	if code, _ := bare.do("GET", "/api/messages", ""); code != 409 {
		t.Errorf("in the demo: %d", code)
	}
}

// TestTopicsHoldEveryKind: what a recipient is told about, all topics chosen, is
// everything.
func TestTopicsHoldEveryKind(t *testing.T) {
	var all []string
	for _, topic := range Topics() {
		all = append(all, topic.Kinds...)
	}
	var want []string
	for _, k := range config.NoticeKinds() {
		want = append(want, string(k))
	}
	slices.Sort(all)
	slices.Sort(want)
	if !slices.Equal(all, want) {
		t.Errorf("the topics hold %q, and there are %q", all, want)
	}
}
