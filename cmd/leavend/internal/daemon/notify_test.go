package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
	"leavend/sensor/sim/simtest"
)

// testPhone is a phone that keeps what it is sent.
type testPhone struct {
	mu      sync.Mutex // guards letters
	letters []notify.Message
	times   []time.Time
}

func (p *testPhone) Send(_ context.Context, l notify.Message) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.letters, p.times = append(p.letters, l), append(p.times, time.Now())
	return nil
}

func (p *testPhone) parts(o *Parts) {
	o.Sender = func(string, string) (notify.Sender, error) { return p, nil }
}

// of returns the letters of one kind, said for the first time.
func (p *testPhone) of(k notify.Kind) (all []notify.Message, at []time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for i, l := range p.letters {
		if l.Kind == k && !strings.HasPrefix(l.Title, "Again") {
			all, at = append(all, l), append(at, p.times[i])
		}
	}
	return all, at
}

const tellPhone = "[[notify]]\nname = \"phone\"\nurl = \"ntfy://host.example/topic\"\n"

// TestBakerIsTold follows a feed in the invented kitchen on the phone.
func TestBakerIsTold(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		var phone testPhone
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone+"heads_up = \"2h\"\n", phone.parts)
		h.pass(t, 12*time.Hour, nil)
		h.close(t)
		called := h.of(event.Peak)
		tops, at := phone.of(notify.OnTop)
		if len(called) == 0 || len(tops) != len(called) {
			t.Fatalf("%d tops were called and %d told", len(called), len(tops))
		}
		for i, e := range called {
			if !tops[i].At.Equal(e.Detected.PeakAt) || at[i].Sub(e.At) > time.Minute {
				t.Errorf("the top called at %v is told at %v: %q", e.At, at[i], tops[i].Text)
			}
		}
		ahead, at := phone.of(notify.HeadsUp)
		if len(ahead) == 0 || !at[0].Before(called[0].At) {
			t.Errorf("no heads-up came before the top: %v", ahead)
		}
	})
}

// TestToldAfterTheTop has the daemon off while the jar stands at its peak.
// Whatever the phone then says of that top, it does not say that it is now.
func TestToldAfterTheTop(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		var phone testPhone
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone, phone.parts)
		h.pass(t, 5*time.Hour, nil)
		h.close(t)
		time.Sleep(4 * time.Hour)
		again := openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone, phone.parts)
		again.pass(t, time.Hour, nil)
		again.close(t)
		tops, at := phone.of(notify.OnTop)
		for i, l := range tops {
			if late := at[i].Sub(l.At) > time.Hour; late == strings.Contains(l.Title, "is ready") {
				t.Errorf("a top of %v is told at %v: %q", l.At, at[i], l.Title)
			}
		}
	})
}

// TestEventBeforeAKillIsTold plants what a kill leaves between storing an event
// and writing its message: the event is in the log, the message is not.
func TestEventBeforeAKillIsTold(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		var phone testPhone
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone, phone.parts)
		h.pass(t, time.Minute, nil)
		h.close(t)
		top := time.Now()
		s, _, err := store.Open(t.Context(), filepath.Join(dir, "leavend.db"), store.Opts{Clock: store.SteadyClock(time.Now, "killed")})
		if err != nil {
			t.Fatal(err)
		}
		killed := &Daemon{Monitor: &monitor.Monitor{Conf: h.Conf, Store: s, Vessels: h.Vessels}}
		if err := killed.openEvents(t.Context()); err != nil {
			t.Fatal(err)
		}
		if err := killed.SaveEvent(t.Context(), event.Event{Kind: event.Peak, Subject: "bramble", At: top, Detected: peak.Event{PeakAt: top}}); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		for range 2 { // the second start must not say it again
			h = openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone, phone.parts)
			h.pass(t, time.Minute, nil)
			h.close(t)
		}
		if tops, _ := phone.of(notify.OnTop); len(tops) != 1 || !tops[0].At.Equal(top) {
			t.Errorf("told %v, want once, of %v", tops, top)
		}
	})
}

// The kill test runs this binary again as a small daemon that has only a store
// and a notifier, and kills it while it sends.
const (
	killStore = "LEAVEND_TEST_KILL_STORE"
	killURL   = "LEAVEND_TEST_KILL_URL"
	killTops  = 12
)

// TestKillHelper is that small daemon; it does nothing unless asked.
func TestKillHelper(t *testing.T) {
	file := os.Getenv(killStore)
	if file == "" {
		t.Skip("it is a part of TestKillWhileSending")
	}
	s, _, err := store.Open(t.Context(), file, store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	people := []notify.Recipient{{Recipient: config.Recipient{Name: "hook", Kinds: []notify.Kind{notify.OnTop}}, Address: func() (string, string, error) { return os.Getenv(killURL), "", nil }}}
	log, err := event.OpenLog(t.Context(), s.EventLog)
	if err != nil {
		t.Fatal(err)
	}
	n, err := notify.New(t.Context(), log, s.States, people, notify.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	if err := log.Begin(t.Context()); err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 11, 25, 6, 0, 0, 0, time.UTC)
	for i := range killTops { // told again at each start, as after any restart
		at := start.Add(time.Duration(i) * time.Minute)
		if err := n.Handle(t.Context(), notify.Event{Kind: notify.Peaked, Vessel: fmt.Sprintf("jar-%02d", i), Name: "Jar", At: at, For: at}); err != nil {
			t.Fatal(err)
		}
	}
	t.Error(n.Run(t.Context())) // until it is killed
}

// TestKillWhileSending kills the sender at every second message: before the
// answer, so that the message is sent and not marked. Nothing may be lost, and
// first arrivals must be in order; repeats are allowed.
func TestKillWhileSending(t *testing.T) {
	if testing.Short() {
		t.Skip("it starts several processes")
	}
	came := make(chan string)
	answer := make(chan bool)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var body struct{ Data struct{ Vessel string } }
		if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
			return // the sender was killed
		}
		select {
		case came <- body.Data.Vessel:
		case <-r.Context().Done():
			return // so was this one
		}
		if !<-answer {
			panic(http.ErrAbortHandler)
		}
	}))
	defer server.Close()
	file := filepath.Join(t.TempDir(), "kill.db")
	launch := func() *exec.Cmd {
		cmd := exec.Command(os.Args[0], "-test.run=^TestKillHelper$")
		cmd.Env = append(os.Environ(), killStore+"="+file, killURL+"="+server.URL)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		return cmd
	}
	var first []string
	sender, fresh := launch(), 0
	// A sender that never comes must end this test and not the whole run; the
	// limit is far beyond what the slowest machine needs.
	patience := time.NewTimer(5 * time.Minute)
	defer patience.Stop()
	for len(first) < killTops {
		var vessel string
		select {
		case vessel = <-came:
		case <-patience.C:
			_ = sender.Process.Kill()
			t.Fatalf("only %v came", first)
		}
		repeat := slices.Contains(first, vessel)
		if !repeat {
			first = append(first, vessel)
			fresh++
		}
		kill := !repeat && fresh%4 == 2
		if kill {
			_ = sender.Process.Kill()
			_ = sender.Wait()
		}
		answer <- !kill
		if kill {
			sender = launch()
		}
	}
	_ = sender.Process.Kill()
	_ = sender.Wait()
	if !slices.IsSorted(first) {
		t.Errorf("they came in the order %v", first)
	}
}

func TestPageAddress(t *testing.T) {
	for _, tt := range []struct {
		web  config.Web
		want string
	}{
		{config.Web{On: true, Listen: "127.0.0.1:8420"}, ""},
		{config.Web{On: false, Listen: ":8420"}, ""},
		{config.Web{On: true, Listen: "192.0.2.7:8420", TLS: config.TLSOff}, "http://192.0.2.7:8420"},
		{config.Web{On: true, Listen: ":8420", TLS: config.TLSSelfMade, Hosts: []string{"kitchen.example"}}, "https://kitchen.example:8420"},
	} {
		if got := tt.web.PageAddress(); got != tt.want {
			t.Errorf("pageAddress(%+v) = %q, want %q", tt.web, got, tt.want)
		}
	}
}
