package notify

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
)

// box is a disk for the event log and for memory like the store's, for tests in
// virtual time; the wiring's tests use the real one. A full disk refuses what is
// written.
type box struct {
	mu   sync.Mutex // guards what follows
	held event.Contents
	kept map[string][]byte
	full bool
}

func newBox() *box {
	return &box{held: event.Contents{Cursors: map[string]int64{}}, kept: map[string][]byte{}}
}

var errFull = errors.New("the disk is full")

func (b *box) locked(f func() error) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.full {
		return errFull
	}
	return f()
}

func (b *box) LoadLog(context.Context) (event.Contents, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	held := b.held
	held.Records, held.Cursors = slices.Clone(held.Records), maps.Clone(held.Cursors)
	return held, nil
}

func (b *box) SaveLog(_ context.Context, c event.Saved) error {
	return b.locked(func() error {
		b.held.Number = c.Number
		for _, r := range c.Records {
			b.held.Records, b.held.Seq = append(b.held.Records, r), r.Seq
		}
		b.held.Records = slices.DeleteFunc(b.held.Records, func(r event.Record) bool { return slices.Contains(c.Done, r.Seq) })
		maps.Copy(b.held.Cursors, c.Moves)
		for name, text := range c.State {
			b.kept[name] = text
		}
		return nil
	})
}

func (b *box) State(_ context.Context, name string, into any) (bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	data, ok := b.kept[name]
	if !ok {
		return false, nil
	}
	return true, json.Unmarshal(data, into)
}

func (b *box) SetState(_ context.Context, name string, v any) error {
	return b.locked(func() error {
		data, err := json.Marshal(v)
		b.kept[name] = data
		return err
	})
}

func (b *box) fill(full bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.full = full
}

// phone takes messages, unless it is out.
type phone struct {
	mu       sync.Mutex // guards what follows
	messages []got
	out      error
}

type got struct {
	at time.Time
	Message
}

func (p *phone) Send(_ context.Context, l Message) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out != nil {
		return p.out
	}
	p.messages = append(p.messages, got{time.Now(), l})
	return nil
}

func (p *phone) cut(err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out = err
}

// take empties the phone.
func (p *phone) take() []got {
	p.mu.Lock()
	defer p.mu.Unlock()
	l := p.messages
	p.messages = nil
	return l
}

// titles are what the phone shows.
func titles(all []got) []string {
	var out []string
	for _, l := range all {
		out = append(out, l.Title)
	}
	return out
}

// kitchen is a notifier at work with one phone.
type kitchen struct {
	*Notifier
	t      *testing.T
	box    *box
	events *event.Log
	phone  *phone
	stop   context.CancelFunc
	ended  chan error
}

func anna() Recipient {
	return Recipient{
		Recipient: config.Recipient{Name: "phone", Kinds: config.NoticeKinds(), HeadsUp: 30 * time.Minute, RepeatEvery: 15 * time.Minute, Repeats: 3, MaxPerHour: 12},
		Address:   func() (string, string, error) { return "phone", "", nil },
	}
}

// start starts a kitchen in a synctest bubble. b is what an earlier one left.
func start(t *testing.T, b *box, people ...Recipient) *kitchen {
	t.Helper()
	if b == nil {
		b = newBox()
	}
	k := &kitchen{t: t, box: b, phone: &phone{}, ended: make(chan error, 1)}
	log := slog.New(slog.NewTextHandler(t.Output(), nil))
	events, err := event.OpenLog(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	k.events = events
	k.Notifier, err = New(t.Context(), events, b, people, Opts{Log: log, Read: read, Link: "https://board.example", Open: func(string, string) (Sender, error) { return k.phone, nil }})
	if err != nil {
		t.Fatal(err)
	}
	if err := events.Begin(t.Context()); err != nil {
		t.Log(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	k.stop = stop
	go func() { k.ended <- k.Run(ctx) }()
	return k
}

func (k *kitchen) close() {
	k.stop()
	if err := <-k.ended; err != nil {
		k.t.Error(err)
	}
}

// read understands a call of the peak.
func read(e event.Event) (Event, bool) {
	return Event{Kind: Peaked, Vessel: e.Subject, Name: "Bramble", At: e.At, For: e.Detected.PeakAt}, e.Kind == event.Peak
}

// hear tells something of Bramble.
func (k *kitchen) hear(h Event) {
	k.t.Helper()
	if h.Vessel == "" {
		h.Vessel, h.Name = "bramble", "Bramble"
	}
	if h.At.IsZero() {
		h.At = time.Now()
	}
	if err := k.Handle(k.t.Context(), h); err != nil {
		k.t.Log(err)
	}
	synctest.Wait()
}

// expect tells when Bramble's top is expected.
func (k *kitchen) expect(at time.Time) {
	k.t.Helper()
	if err := k.Expect(k.t.Context(), Outlook{Vessel: "bramble", Name: "Bramble", At: at}); err != nil {
		k.t.Error(err)
	}
	synctest.Wait()
}

// pass lets time go by.
func pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

// want compares what the phone shows with what it should.
func (k *kitchen) want(want ...string) []got {
	k.t.Helper()
	all := k.phone.take()
	if got := titles(all); !slices.Equal(got, want) {
		k.t.Errorf("the phone shows %q, want %q", got, want)
	}
	return all
}
