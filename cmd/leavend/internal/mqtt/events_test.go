package mqtt

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest/campaign"
	"leavend/cmd/leavend/internal/store"
)

// openLog opens a store and the event log in it.
func openLog(path string) (*store.Store, *event.Log, error) {
	s, _, err := store.Open(context.Background(), path, store.Opts{})
	if err != nil {
		return nil, nil, err
	}
	l, err := event.OpenLog(context.Background(), s.EventLog)
	return s, l, err
}

// commit puts an event of Bramble into a log.
func commit(l *event.Log, text string) error {
	e := event.Event{Kind: event.Peak, Subject: "bramble", At: noon, Text: text}
	body, err := json.Marshal(e)
	if err != nil {
		return err
	}
	return l.Commit(context.Background(), event.Change{Records: []event.Record{{Body: body}}})
}

// happen appends events for ever, sends them, and says which are stored.
func happen(c *Client, l *event.Log) {
	if err := l.Begin(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	go c.Run(context.Background())
	for range time.Tick(2 * time.Millisecond) {
		text := fmt.Sprintf("e-%d-%d", os.Getpid(), time.Now().UnixNano())
		if err := commit(l, text); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		fmt.Println(text)
	}
}

// kills is how often TestEventsOutliveKills kills: 200 times with LEAVEND_LONG=1.
func kills() int {
	if campaign.Long() {
		return 200
	}
	return 5
}

// A process that stores events and sends them is killed again and again. Each
// event that it stored reaches the broker, in order. A kill that cuts a
// confirmation off repeats that one event, under one id.
func TestEventsOutliveKills(t *testing.T) {
	path := filepath.Join(t.TempDir(), "leavend.db")
	b := opened(t, BrokerOpts{Listen: "127.0.0.1:0"})
	run(t, b.Run)
	r, _ := read(t, b, "leavend/bramble/event")
	address, own := b.Login()
	address = strings.Replace(address, "://", "://"+url.UserPassword(own.User, own.Password).String()+"@", 1)
	rng := rand.New(rand.NewPCG(3, 4))
	var stored []string
	for range kills() {
		stored = append(stored, happenAndDie(t, address, path, rng)...)
	}
	s, l, err := openLog(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	c := newClient(t, address, Opts{Vessels: []VesselInfo{{ID: "bramble"}}, Events: l})
	if err := l.Begin(t.Context()); err != nil {
		t.Fatal(err)
	}
	stop := run(t, c.Run)
	eventually(t, "all is sent", func() bool { return c.Connected() && c.Stats().EventsWaiting == 0 })
	stop()
	// The broker confirms an event before it hands it on.
	eventually(t, "the last one arrives", func() bool { return len(r.find("leavend/bramble/event", stored[len(stored)-1])) > 0 })
	checkArrived(t, stored, r.find("leavend/bramble/event", ""))
}

// happenAndDie runs a process that stores and sends until it is killed, and
// returns what it stored.
func happenAndDie(t *testing.T, address, path string, rng *rand.Rand) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "LEAVEND_TEST_DAEMON="+address, "LEAVEND_TEST_STORE="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var stored []string
	lines := bufio.NewReader(out)
	for range 3 + rng.IntN(20) {
		line, err := lines.ReadString('\n')
		if err != nil {
			t.Fatalf("it ended by itself: %v", err)
		}
		stored = append(stored, strings.TrimSpace(line))
	}
	cmd.Process.Kill()
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			break // a line that was cut off is no acknowledgement
		}
		stored = append(stored, strings.TrimSpace(line))
	}
	cmd.Wait()
	return stored
}

// checkArrived compares what was stored with what came.
func checkArrived(t *testing.T, stored []string, came []Inbound) {
	t.Helper()
	texts, times := map[string]int{}, map[string]int{}
	for i, in := range came {
		var e struct{ ID, Text string }
		if err := json.Unmarshal(in.Payload, &e); err != nil {
			t.Fatal(err)
		}
		times[e.ID]++
		if _, known := texts[e.Text]; !known {
			texts[e.Text] = i
		}
	}
	lost, again, last := 0, 0, -1
	for _, text := range stored {
		at, ok := texts[text]
		if !ok {
			lost++
			continue
		}
		if at < last {
			t.Errorf("%s came before one that was stored earlier", text)
		}
		last = at
	}
	for _, n := range times {
		again += n - 1
	}
	t.Logf("%d kills: %d events stored, %d lost, %d repeated under the same id", kills(), len(stored), lost, again)
	if lost > 0 || again > kills() {
		t.Errorf("%d events are lost, %d repeated in %d kills", lost, again, kills())
	}
}

// What an earlier release left in its file goes out once, and the file goes.
func TestFileOfBeforeIsTakenOver(t *testing.T) {
	path := filepath.Join(t.TempDir(), "mqtt-events.jsonl")
	good := func(n int) string {
		return fmt.Sprintf(`{"topic":"leavend/bramble/event","payload":{"event_type":"fed","n":%d}}`, n) + "\n"
	}
	if err := os.WriteFile(path, []byte(good(1)+"\x00\x00\n"+good(2)+`{"topic":"leavend/bramb`), 0o600); err != nil {
		t.Fatal(err)
	}
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	r, _ := read(t, b, "leavend/bramble/event")
	for range 2 {
		if err := c.events.takeOver(t.Context(), path); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Errorf("the file is still there: %v", err)
	}
	run(t, c.Run)
	eventually(t, "both come", func() bool { return c.Stats().EventsSent == 2 && len(r.find("leavend/bramble/event", "fed")) == 2 })
}

// A record that says nothing is passed over; what follows it is sent.
func TestRecordThatSaysNothing(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	r, _ := read(t, b, "leavend/bramble/event")
	for _, body := range []string{`{"kind":""}`, `7`, `{"kind":"peak","subject":"a/b/#"}`} {
		if err := c.opts.Events.Commit(t.Context(), event.Change{Records: []event.Record{{Body: []byte(body)}}}); err != nil {
			t.Fatal(err)
		}
	}
	if err := commit(c.opts.Events, "at its peak"); err != nil {
		t.Fatal(err)
	}
	run(t, c.Run)
	eventually(t, "the good one comes", func() bool { return len(r.find("leavend/bramble/event", "at its peak")) == 1 })
	if n := c.Stats().EventsWaiting; n != 0 {
		t.Errorf("%d wait", n)
	}
}
