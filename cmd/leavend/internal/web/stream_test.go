package web

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/leavendtest/campaign"
)

// pipes is a listener without a network, so that a whole server runs under
// virtual time.
type pipes struct {
	conns chan net.Conn
	once  sync.Once
	done  chan struct{}
}

func newPipes() *pipes { return &pipes{conns: make(chan net.Conn), done: make(chan struct{})} }

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.done:
		return nil, net.ErrClosed
	}
}
func (p *pipes) Close() error   { p.once.Do(func() { close(p.done) }); return nil }
func (p *pipes) Addr() net.Addr { return pipeAddr{} }

type pipeAddr struct{}

func (pipeAddr) Network() string { return "tcp" }
func (pipeAddr) String() string  { return "127.0.0.1:8420" }

// localPipe says that it comes from the machine itself.
type localPipe struct{ net.Conn }

func (localPipe) RemoteAddr() net.Addr { return pipeAddr{} }

func (p *pipes) client() *http.Client {
	return &http.Client{Transport: &http.Transport{DisableCompression: true, DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		ours, theirs := net.Pipe()
		select {
		case p.conns <- localPipe{theirs}:
			return ours, nil
		case <-p.done:
			return nil, errors.New("closed")
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}}}
}

// follow reads a stream until it ends and counts its messages.
func follow(ctx context.Context, t *testing.T, c *http.Client, count *atomic.Int64, each func(data string)) {
	r, err := http.NewRequestWithContext(ctx, "GET", "http://localhost/api/events", nil)
	if err != nil {
		t.Error(err)
		return
	}
	reply, err := c.Do(r)
	if err != nil {
		t.Error(err)
		return
	}
	defer reply.Body.Close()
	lines := bufio.NewReaderSize(reply.Body, 64<<10)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return
		}
		if data, ok := strings.CutPrefix(line, "data: "); ok {
			count.Add(1)
			if each != nil {
				each(data)
			}
		}
	}
}

// smallBackend is the invented kitchen with little to say.
func smallBackend() Backend {
	h := newFakeHouse(time.Now)
	b := h.backend()
	b.Watch = smallHouse{h}
	return b
}

// TestAHundredVisitorsForTenHours runs the real HTTP server under virtual
// time. A change comes every ten seconds; now and then a visitor goes and
// another comes. Neither goroutines nor memory may grow. It is a hundred
// visitors for ten hours with LEAVEND_LONG=1, and a fifth of both otherwise.
func TestVisitorsForHours(t *testing.T) {
	visitors, hours := 20, 2
	if campaign.Long() {
		visitors, hours = 100, 10
	}
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		s, err := New(smallBackend(), Opts{Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		l := newPipes()
		ended := make(chan error, 1)
		go func() { ended <- s.Serve(ctx, l) }()

		var heard atomic.Int64
		var gone sync.WaitGroup
		visit := func() (leave func()) {
			c := l.client()
			inside, leave := context.WithCancel(ctx)
			gone.Go(func() {
				follow(inside, t, c, &heard, nil)
				c.CloseIdleConnections()
			})
			return leave
		}
		leaves := make([]func(), visitors)
		for i := range leaves {
			leaves[i] = visit()
		}
		synctest.Wait()
		if s.stream.count() != visitors {
			t.Fatalf("%d visitors, want %d", s.stream.count(), visitors)
		}
		goroutines, heap := bubbled(), liveHeap()
		for n := range hours * 360 {
			time.Sleep(10 * time.Second)
			s.Changed()
			if n%120 == 60 { // every twenty minutes a phone goes and another comes
				i := n / 120 % visitors
				leaves[i]()
				leaves[i] = visit()
			}
		}
		synctest.Wait()
		grown, more := liveHeap()-heap, bubbled()-goroutines
		t.Logf("%d messages to %d visitors; heap grew by %d kB, %d goroutines by %d", heard.Load(), visitors, grown/1024, goroutines, more)
		// One message a change, for every visitor but those just coming or going.
		if want := int64(visitors * hours * 360); heard.Load() < want-int64(visitors) || heard.Load() > want*11/10 {
			t.Errorf("%d messages, want about %d", heard.Load(), want)
		}
		// What a hundred fresh connections may hold in buffers is far below this.
		if grown > 4<<20 {
			t.Errorf("the heap grew by %d bytes", grown)
		}
		if s.stream.count() != visitors || more > 0 {
			t.Errorf("%d visitors, want %d; %d goroutines more", s.stream.count(), visitors, more)
		}
		stop()
		if err := <-ended; err != nil {
			t.Errorf("Serve: %v", err)
		}
		_ = l.Close()
		gone.Wait()
		for _, leave := range leaves {
			leave()
		}
	})
}

// smallHouse has one jar and no mat, so that the ten hours go into the stream
// and not into invented curves.
type smallHouse struct{ *fakeHouse }

func (h smallHouse) Now() Snapshot {
	at := h.now()
	return Snapshot{At: at, Vessels: []Vessel{{ID: "bramble", Name: "Bramble", Kind: Jar, Stage: Rising, Temp: &Measure{25, at}}}}
}

// bubbled counts the goroutines of this test, and none that the runtime or another
// test has.
func bubbled() int {
	all := make([]byte, 8<<20)
	return bytes.Count(all[:runtime.Stack(all, true)], []byte("synctest bubble"))
}

func liveHeap() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// TestChangesReachTheVisitor checks that a change is heard within the rest
// between messages, that silence is broken by a beat, and that a burst of
// changes makes one message.
func TestChangesReachTheVisitor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		house := newFakeHouse(time.Now)
		s, err := New(house.backend(), Opts{Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		l := newPipes()
		ended := make(chan error, 1)
		go func() { ended <- s.Serve(ctx, l) }()
		var heard atomic.Int64
		var last atomic.Value
		c := l.client()
		gone := make(chan struct{})
		go func() { defer close(gone); follow(ctx, t, c, &heard, func(data string) { last.Store(data) }) }()
		synctest.Wait()
		if heard.Load() != 1 {
			t.Fatalf("%d messages at once, want the first", heard.Load())
		}
		for range 1000 {
			s.Changed()
		}
		time.Sleep(2 * streamRest)
		synctest.Wait()
		if got := heard.Load(); got < 2 || got > 3 {
			t.Errorf("a burst of a thousand changes made %d messages", got-1)
		}
		if err := house.SetSetpoint(ctx, "shelf", 21.5); err != nil {
			t.Fatal(err)
		}
		s.Changed()
		time.Sleep(2 * streamRest)
		synctest.Wait()
		var k Snapshot
		if err := json.Unmarshal([]byte(last.Load().(string)), &k); err != nil || k.Mats[0].SetpointC != 21.5 {
			t.Errorf("heard setpoint %v, %v", k.Mats, err)
		}
		before := heard.Load()
		time.Sleep(61 * time.Second)
		synctest.Wait()
		if got := heard.Load() - before; got < 6 {
			t.Errorf("%d beats in a minute of silence, want 6", got)
		}
		stop()
		<-ended
		_ = l.Close()
		<-gone
	})
}

// TestAVisitorWhoTakesNothingIsLetGo leaves a connection unread.
func TestAVisitorWhoTakesNothingIsLetGo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		s, err := New(newFakeHouse(time.Now).backend(), Opts{Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		l := newPipes()
		ended := make(chan error, 1)
		go func() { ended <- s.Serve(ctx, l) }()
		ours, theirs := net.Pipe()
		l.conns <- localPipe{theirs}
		if _, err := io.WriteString(ours, "GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
		one := make([]byte, 1)
		if _, err := ours.Read(one); err != nil { // the answer has begun; now take no more
			t.Fatal(err)
		}
		synctest.Wait()
		if s.stream.count() != 1 {
			t.Fatalf("%d visitors, want 1", s.stream.count())
		}
		time.Sleep(streamWrite + streamBeat + time.Second)
		synctest.Wait()
		if s.stream.count() != 0 {
			t.Errorf("%d visitors after %s of taking nothing", s.stream.count(), streamWrite)
		}
		stop()
		<-ended
		_ = ours.Close()
	})
}

func TestTooManyVisitors(t *testing.T) {
	s := newStream(func() ([]byte, error) { return nil, nil })
	for range maxVisitors {
		if !s.enter() {
			t.Fatal("turned away too early")
		}
	}
	if s.enter() {
		t.Error("one too many was let in")
	}
	s.leave()
	if !s.enter() {
		t.Error("a free place was not given")
	}
}

// TestAStreamOutlivesTheServersDeadlines: the server cuts off answers after
// half a minute, but a stream lives on.
func TestAStreamOutlivesTheServersDeadlines(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		s, err := New(newFakeHouse(time.Now).backend(), Opts{Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		l := newPipes()
		ended := make(chan error, 1)
		go func() { ended <- s.Serve(ctx, l) }()
		var heard atomic.Int64
		gone := make(chan struct{})
		c := l.client()
		go func() { defer close(gone); follow(ctx, t, c, &heard, nil) }()
		time.Sleep(10 * time.Minute)
		select {
		case <-gone:
			t.Errorf("the stream ended after %d messages", heard.Load())
		default:
		}
		stop()
		<-ended
		_ = l.Close()
		<-gone
	})
}
