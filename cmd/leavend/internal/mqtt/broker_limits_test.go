package mqtt

import (
	"fmt"
	"net"
	"runtime"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// leave connects with a session that outlives its connection, and goes.
func leave(t *testing.T, address, id string, filters ...string) {
	t.Helper()
	c, err := enter(t, mqtt.NewClientOptions().SetClientID(id).SetCleanSession(false), address)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range filters {
		if token := c.Subscribe(f, 1, nil); !token.WaitTimeout(patience) || token.Error() != nil {
			t.Fatalf("subscribe %s: %v", f, token.Error())
		}
	}
	c.Disconnect(0)
}

func TestLeftSessionsKeepNoClientOut(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	run(t, c.Run)
	eventually(t, "our own client is in", c.Connected)
	address := "mqtt://" + b.Address().String()
	for i := range 3 * maxAbsentSessions {
		id := fmt.Sprint("left-", i)
		leave(t, address, id)
		// A broker on a busy machine may hear of one who left after the next has come.
		eventually(t, id+" has left", func() bool {
			cl, ok := b.server.Clients.Get(id)
			return ok && cl.StopTime() != 0
		})
	}
	leave(t, address, "newest", "news")
	eventually(t, "the oldest absent sessions are put out", func() bool { return len(b.limits.absent()) <= maxAbsentSessions+1 })
	if _, ok := b.server.Clients.Get("newest"); !ok {
		t.Error("the newest absent session was put out")
	}
	if _, ok := b.server.Clients.Get("left-0"); ok {
		t.Error("the oldest absent session is still there")
	}
	if !c.Connected() {
		t.Error("our own client was put out")
	}
}

func TestRetainedBytesAreBounded(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	run(t, c.Run)
	eventually(t, "our own client is in", c.Connected)
	stranger, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	payload := make([]byte, 200<<10)
	for i := range 3 * maxRetainedBytes / len(payload) {
		stranger.Publish(fmt.Sprint("junk/", i), 0, true, payload).Wait()
	}
	// A message on the same connection comes after all the others.
	stranger.Publish("shed/last", 1, false, "x").Wait()
	b.limits.mu.Lock()
	held := b.limits.bytes
	b.limits.mu.Unlock()
	if held > maxRetainedBytes || held < maxRetainedBytes/2 {
		t.Errorf("%d bytes are retained, want at most %d and more than half of it", held, maxRetainedBytes)
	}
	total := 0
	for _, pk := range b.server.Topics.Messages("junk/#") {
		total += len(pk.Payload)
	}
	if total > maxRetainedBytes {
		t.Errorf("the broker retains %d bytes", total)
	}
	// What is taken away makes room again.
	for i := range 3 {
		stranger.Publish(fmt.Sprint("junk/", i), 0, true, "").Wait()
	}
	stranger.Publish("junk/new", 1, true, payload).Wait()
	if got := b.server.Topics.Messages("junk/new"); len(got) != 1 {
		t.Errorf("after room was made, %d messages are retained on junk/new, want 1", len(got))
	}
}

// Where strangers have filled what may be retained, our own client still says what the
// kitchen does.
func TestOwnMessagesFindRoom(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	stranger, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	payload := make([]byte, 200<<10)
	for i := range 2 * maxRetainedBytes / len(payload) {
		stranger.Publish(fmt.Sprint("junk/", i), 0, true, payload).Wait()
	}
	for size := len(payload); size > 0; size /= 2 { // down to the last byte
		stranger.Publish(fmt.Sprint("junk/last-", size), 0, true, payload[:size]).Wait()
	}
	stranger.Publish("junk/x", 0, true, make([]byte, 20)).Wait()
	stranger.Publish("shed/last", 1, false, "x").Wait() // comes after all the others
	if got := b.server.Topics.Messages("junk/x"); len(got) != 0 {
		t.Fatal("there is room left for a stranger")
	}
	run(t, c.Run)
	eventually(t, "our own client says that it is there", func() bool {
		got := b.server.Topics.Messages(DefaultPrefix + "/status")
		return len(got) == 1 && string(got[0].Payload) == "online"
	})
}

func TestWaitingBytesAreBounded(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	run(t, c.Run)
	eventually(t, "our own client is in", c.Connected)
	address := "mqtt://" + b.Address().String()
	for i := range 20 {
		leave(t, address, fmt.Sprint("absent-", i), "flood")
	}
	stranger, err := enter(t, mqtt.NewClientOptions(), address)
	if err != nil {
		t.Fatal(err)
	}
	payload := make([]byte, 100<<10)
	for range 200 { // 400 MB, were each kept for each session
		stranger.Publish("flood", 1, false, payload)
	}
	eventually(t, "the waiting bytes come down", func() bool {
		total, _, _ := b.limits.measure()
		return total <= maxWaitingBytes
	})
	runtime.GC()
	var mem runtime.MemStats
	runtime.ReadMemStats(&mem)
	if mem.HeapAlloc > 100<<20 {
		t.Errorf("the heap holds %d MB", mem.HeapAlloc>>20)
	}
	if !c.Connected() {
		t.Error("our own client was put out")
	}
}

func TestSilentConnectionsMakeRoom(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{Clients: 4}, Opts{})
	run(t, c.Run)
	known, err := enter(t, mqtt.NewClientOptions().SetClientID("known"), "mqtt://"+b.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	for range 12 {
		conn, err := net.Dial("tcp", b.Address().String())
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
	}
	if _, err := enter(t, mqtt.NewClientOptions().SetClientID("late"), "mqtt://"+b.Address().String()); err != nil {
		t.Errorf("silent connections keep a client out: %v", err)
	}
	if token := known.Publish("shed/height", 1, false, "20"); !token.WaitTimeout(patience) || token.Error() != nil {
		t.Errorf("a client that was in is out: %v", token.Error())
	}
}

func TestTooManySubscriptions(t *testing.T) {
	b, c := kitchen(t, BrokerOpts{}, Opts{})
	run(t, c.Run)
	greedy, err := enter(t, mqtt.NewClientOptions(), "mqtt://"+b.Address().String())
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2 * maxFilters {
		greedy.Subscribe(fmt.Sprint("topic/", i), 0, nil).WaitTimeout(patience)
	}
	if got := int(b.server.Info.Clone().Subscriptions); got > maxFilters+10 {
		t.Errorf("the broker holds %d subscriptions, want about %d at most", got, maxFilters)
	}
}

func TestGuesses(t *testing.T) {
	var g guesses
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range freeGuesses - 1 {
		if w := g.wrong(account{"baker", "10.0.0.9"}, now); w != 0 {
			t.Fatalf("wrong login %d has to wait %v", i+1, w)
		}
	}
	for i, want := range []time.Duration{time.Second, 2 * time.Second, 4 * time.Second} {
		if got := g.wrong(account{"baker", "10.0.0.9"}, now); got != want {
			t.Errorf("wrong login %d waits %v, want %v", freeGuesses+i, got, want)
		}
	}
	if !g.waits(account{"baker", "10.0.0.9"}, now.Add(3*time.Second)) || g.waits(account{"baker", "10.0.0.9"}, now.Add(4*time.Second)) {
		t.Error("the login does not wait for four seconds")
	}
	if g.waits(account{"hub", "10.0.0.9"}, now) {
		t.Error("another user has to wait too")
	}
	for range 40 {
		g.wrong(account{"baker", "10.0.0.9"}, now)
	}
	if got := g.wrong(account{"baker", "10.0.0.9"}, now); got != longestWait {
		t.Errorf("the wait grows to %v, want %v", got, longestWait)
	}
	if got := g.wrong(account{"baker", "10.0.0.9"}, now.Add(2*time.Hour)); got != 0 {
		t.Errorf("after two quiet hours a wrong login waits %v", got)
	}
	for i := range 3 * mostLogins {
		g.wrong(account{"baker", fmt.Sprint(i)}, now.Add(time.Duration(i)*time.Second))
	}
	if len(g.by) > mostLogins {
		t.Errorf("%d logins are remembered", len(g.by))
	}
	if addressOf("[2001:db8:1:2:3::4]:99") != addressOf("[2001:db8:1:2:ffff::1]:98") {
		t.Error("two addresses of one IPv6 network count apart")
	}
}
