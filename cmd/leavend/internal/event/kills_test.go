package event_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest/campaign"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// The victim of TestKills is this binary with a store, the event log in it, a
// client of a broker, and a notifier with a webhook.
const (
	victimStore  = "LEAVEND_TEST_STORE"
	victimBroker = "LEAVEND_TEST_BROKER"
	victimHook   = "LEAVEND_TEST_HOOK"
	victimFirst  = "LEAVEND_TEST_FIRST"
)

func TestMain(m *testing.M) {
	if os.Getenv(victimStore) != "" {
		if err := victim(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

var began = time.Date(2026, 11, 25, 6, 0, 0, 0, time.UTC)

// daemon is what of a daemon keeps and tells.
type daemon struct {
	store  *store.Store
	log    *event.Log
	client *mqtt.Client
	told   *notify.Notifier
}

func open(ctx context.Context, path, broker, hook string) (*daemon, error) {
	d := &daemon{}
	var err error
	if d.store, _, err = store.Open(ctx, path, store.Opts{}); err != nil {
		return nil, err
	}
	if d.log, err = event.OpenLog(ctx, d.store.EventLog); err != nil {
		return nil, err
	}
	u, err := url.Parse(broker)
	if err != nil {
		return nil, err
	}
	login := func() (mqtt.Login, error) {
		password, _ := u.User.Password()
		return mqtt.Login{User: u.User.Username(), Password: password}, nil
	}
	if d.client, err = mqtt.New(broker, mqtt.Opts{Login: login, Vessels: []mqtt.VesselInfo{{ID: "bramble"}}, Events: d.log}); err != nil {
		return nil, err
	}
	people := []notify.Recipient{{Recipient: config.Recipient{Name: "hook", Kinds: []notify.Kind{notify.OnTop}}, Address: func() (string, string, error) { return hook, "", nil }}}
	d.told, err = notify.New(ctx, d.log, d.store.States, people, notify.Opts{Read: func(e event.Event) (notify.Event, bool) {
		return notify.Event{Kind: notify.Peaked, Vessel: e.Subject, Name: "Bramble", At: e.At, For: e.Detected.PeakAt}, e.Kind == event.Peak
	}})
	if err != nil {
		return nil, err
	}
	return d, d.log.Begin(ctx)
}

// run sends until ctx ends.
func (d *daemon) run(ctx context.Context) {
	var all sync.WaitGroup
	all.Go(func() { _ = d.client.Run(ctx) })
	all.Go(func() { _ = d.told.Run(ctx) })
	all.Wait()
}

// victim feeds and calls peaks as fast as it can until it is killed, and says on
// its standard output what is stored.
func victim() error {
	ctx := context.Background()
	d, err := open(ctx, os.Getenv(victimStore), os.Getenv(victimBroker), os.Getenv(victimHook))
	if err != nil {
		return err
	}
	go d.run(ctx)
	n, err := strconv.Atoi(os.Getenv(victimFirst))
	if err != nil {
		return err
	}
	for ; ; n++ {
		at := began.Add(time.Duration(n) * time.Second)
		f, err := d.store.Journal.AddFeed(ctx, store.Feed{Vessel: "bramble", At: time.Now()})
		if err != nil {
			return err
		}
		fmt.Println("feed", f.ID)
		e := event.Event{Kind: event.Peak, Subject: "bramble", At: time.Now(), Text: strconv.Itoa(n), Detected: peak.Event{PeakAt: at}}
		body, err := json.Marshal(e)
		if err != nil {
			return err
		}
		err = d.log.Commit(ctx, event.Change{Records: []event.Record{{Body: body}}, Journal: []event.Entry{store.Event{Vessel: "bramble", At: e.At, Kind: "peak", Data: body}.Entry()}})
		if err != nil {
			return err
		}
		fmt.Println("event", n)
	}
}

// kills is how often TestKills kills: 500 times with LEAVEND_LONG=1.
func kills() int {
	if campaign.Long() {
		return 500
	}
	return 6
}

// arrivals counts what came, by what it says and by its id.
type arrivals struct {
	mu   sync.Mutex // guards what follows
	says map[string]int
	ids  map[string]int
}

func newArrivals() *arrivals { return &arrivals{says: map[string]int{}, ids: map[string]int{}} }

func (a *arrivals) add(says, id string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.says[says]++
	a.ids[id]++
}

func (a *arrivals) has(says string) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.says[says] > 0
}

// check holds that each of want came, and none more often than kills between
// sending and marking explain: one repetition a kill, under one id.
func (a *arrivals) check(t *testing.T, what string, want []string) {
	t.Helper()
	a.mu.Lock()
	defer a.mu.Unlock()
	lost, again := 0, 0
	for _, w := range want {
		if a.says[w] == 0 {
			lost++
		}
	}
	for _, n := range a.ids {
		again += n - 1
	}
	doubled := len(a.ids) - len(a.says)
	t.Logf("%s: %d stored, %d lost, %d repeated under the same id", what, len(want), lost, again)
	if lost > 0 || doubled > 0 || again > kills() {
		t.Errorf("%s: %d are lost, %d repeated under the same id, %d came under two", what, lost, again, doubled)
	}
}

// TestKills kills a process that feeds, sends events by MQTT and messages to a
// webhook, again and again on one store. What it acknowledged is stored, and
// reaches the broker and the webhook.
func TestKills(t *testing.T) {
	path := filepath.Join(t.TempDir(), "leavend.db")
	events, letters := newArrivals(), newArrivals()
	broker := witness(t, events)
	hook := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		var body struct{ Timestamp time.Time }
		if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
			return // the kill cut it off; it is sent again
		}
		letters.add(strconv.Itoa(int(body.Timestamp.Sub(began).Seconds())), r.Header.Get("webhook-id"))
	}))
	defer hook.Close()
	rng := rand.New(rand.NewPCG(5, 6))
	var feeds, told []string
	for i := range kills() {
		f, e := killOne(t, rng, path, broker, hook.URL, i*10_000)
		feeds, told = append(feeds, f...), append(told, e...)
	}
	drain(t, path, broker, hook.URL, feeds)
	t.Logf("%d kills, %d feeds acknowledged and stored", kills(), len(feeds))
	// The broker confirms an event before it hands it on.
	wait(t, "the last event arrives", func() bool { return events.has(told[len(told)-1]) })
	events.check(t, "events by MQTT", told)
	letters.check(t, "messages", told)
}

// witness runs a broker and counts the events that reach it; it returns an address
// with a login.
func witness(t *testing.T, came *arrivals) string {
	t.Helper()
	b, err := mqtt.NewBroker(mqtt.BrokerOpts{Listen: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	address, login := b.Login()
	reader, err := mqtt.New(address, mqtt.Opts{Prefix: "witness", Login: func() (mqtt.Login, error) { return login, nil }})
	if err != nil {
		t.Fatal(err)
	}
	err = reader.Subscribe("leavend/bramble/event", func(in mqtt.Inbound) {
		var e struct{ ID, Text string }
		if err := json.Unmarshal(in.Payload, &e); err != nil {
			t.Error(err)
		}
		came.add(e.Text, e.ID)
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(context.Background())
	var both sync.WaitGroup
	both.Go(func() { _ = b.Run(ctx) })
	both.Go(func() { _ = reader.Run(ctx) })
	t.Cleanup(func() { end(); both.Wait() })
	// What it says of itself goes out once it is subscribed.
	wait(t, "the witness listens", func() bool { return reader.Stats().StatesSent > 0 })
	return strings.Replace(address, "://", "://"+url.UserPassword(login.User, login.Password).String()+"@", 1)
}

// killOne lets a victim work for a moment and returns what it acknowledged.
func killOne(t *testing.T, rng *rand.Rand, path, broker, hook string, first int) (feeds, events []string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), victimStore+"="+path, victimBroker+"="+broker, victimHook+"="+hook, victimFirst+"="+strconv.Itoa(first))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	for n, killed := 2+rng.IntN(30), false; ; n-- {
		if n == 0 {
			time.Sleep(time.Duration(rng.IntN(5000)) * time.Microsecond)
			_ = cmd.Process.Kill()
			killed = true
		}
		line, err := lines.ReadString('\n')
		if err != nil { // a line that was cut off is no acknowledgement
			if !killed {
				t.Fatal("the victim ended by itself")
			}
			break
		}
		what, id, _ := strings.Cut(strings.TrimSpace(line), " ")
		if what == "feed" {
			feeds = append(feeds, id)
		} else {
			events = append(events, id)
		}
	}
	_ = cmd.Wait()
	return feeds, events
}

// drain lets what is left go out, and holds that each acknowledged feed is there.
func drain(t *testing.T, path, broker, hook string, feeds []string) {
	t.Helper()
	d, err := open(t.Context(), path, broker, hook)
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(t.Context())
	var running sync.WaitGroup
	running.Go(func() { d.run(ctx) })
	wait(t, "all is sent", func() bool {
		held, err := d.store.EventLog.LoadLog(ctx)
		return err == nil && len(held.Records) == 0
	})
	end()
	running.Wait()
	stored, err := d.store.Journal.Feeds(t.Context(), store.Query{})
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, f := range stored {
		there[strconv.FormatInt(f.ID, 10)] = true
	}
	for _, id := range feeds {
		if !there[id] {
			t.Errorf("feed %s was acknowledged and is not there", id)
		}
	}
	if err := d.store.Close(); err != nil {
		t.Error(err)
	}
}

// wait waits for a condition, long enough for a slow machine.
func wait(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("waited in vain: %s", what)
}
