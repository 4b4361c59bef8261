package publish

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// waitAndDie runs a daemon without a broker that is killed while events wait.
func waitAndDie(t *testing.T, journal string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "LEAVEND_TEST_DAEMON=mqtt://127.0.0.1:9", "LEAVEND_TEST_JOURNAL="+journal)
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the events are on disk", func() bool {
		text, _ := os.ReadFile(journal)
		return strings.Count(string(text), "\n") == 20
	})
	cmd.Process.Kill()
	cmd.Wait()
}

func TestEventsOutliveAKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "events.jsonl")
	waitAndDie(t, path)
	b, c := kitchen(t, BrokerOpts{}, Opts{Journal: path})
	r, _ := read(t, b, "leavend/#")
	run(t, c.Run)
	eventually(t, "all events are sent", func() bool { return c.Stats().EventsSent == 20 })
	for i := range 20 {
		eventually(t, "each event comes", func() bool { return len(r.find("leavend/bramble/event", fmt.Sprintf(`"e%02d"`, i))) == 1 })
	}
	eventually(t, "the journal is empty", func() bool { info, err := os.Stat(path); return err == nil && info.Size() == 0 })
}

func TestJournalIsNotWrittenWhileThereIsABroker(t *testing.T) {
	path := filepath.Join(t.TempDir(), "events.jsonl")
	_, c := kitchen(t, BrokerOpts{}, Opts{Journal: path})
	stop := run(t, c.Run)
	eventually(t, "connected", c.Connected)
	for range 5 {
		c.Event(topEvent())
	}
	eventually(t, "all are sent", func() bool { return c.Stats().EventsSent == 5 })
	stop()
	if info, err := os.Stat(path); err == nil && info.Size() > 0 {
		t.Errorf("%d bytes are left in the journal", info.Size())
	}
}

func TestDamagedJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "events.jsonl")
	good := `{"topic":"leavend/bramble/event","payload":{"event_type":"fed"}}` + "\n"
	if err := os.WriteFile(path, []byte(good+"\x00\x00\n"+good+`{"topic":"leavend/bramb`), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := New("mqtt://broker.example", Opts{Journal: path})
	if err != nil {
		t.Fatal(err)
	}
	if n := c.Stats().EventsWaiting; n != 2 {
		t.Errorf("%d events were read, want the 2 good ones", n)
	}
}

func TestFullDiskStopsNobody(t *testing.T) {
	_, c := kitchen(t, BrokerOpts{}, Opts{Journal: filepath.Join(t.TempDir(), "no such folder", "events.jsonl")})
	run(t, c.Run)
	c.Event(topEvent())
	eventually(t, "the event is sent all the same", func() bool { return c.Stats().EventsSent == 1 })
}

func TestJournalIsBounded(t *testing.T) {
	path := filepath.Join(t.TempDir(), "events.jsonl")
	q := newQueue(10)
	j := &journal{path: path, log: newClient(t, "mqtt://broker.example", Opts{}).log}
	payload := []byte(`"` + strings.Repeat("x", 100<<10) + `"`)
	for range 200 {
		q.event(message{topic: "a", payload: payload})
		j.sync(q)
	}
	info, err := os.Stat(path)
	if err != nil || info.Size() > tooLong+11*(101<<10) {
		t.Errorf("the journal has %d bytes: %v", info.Size(), err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Millisecond)
	defer cancel()
	j.run(ctx, q)
	again := newQueue(10)
	if err := (&journal{path: path, log: j.log}).recall(again); err != nil {
		t.Fatal(err)
	}
	if n, _, _, _ := again.waiting(); n != 10 {
		t.Errorf("%d events come back, want 10", n)
	}
}
