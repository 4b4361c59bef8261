package notify

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// box is an outbox and memory like the store's, for tests in virtual time; the
// wiring's tests use the real one. A full disk refuses what is written.
type box struct {
	mu   sync.Mutex // guards what follows
	all  []boxed
	kept map[string][]byte
	full bool
}

type boxed struct {
	Message
	done, sent bool
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

func (b *box) Enqueue(_ context.Context, all ...Message) error {
	return b.locked(func() error {
		for _, m := range all {
			m.ID = int64(len(b.all) + 1)
			b.all = append(b.all, boxed{Message: m})
		}
		return nil
	})
}

func (b *box) Due(_ context.Context, now time.Time) ([]Message, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var due []Message
	seen := map[string]bool{}
	for i := range b.all {
		m := &b.all[i]
		if !m.done && !m.Expires.IsZero() && !m.Expires.After(now) {
			m.done = true
		}
		if m.done || seen[m.Recipient] {
			continue
		}
		seen[m.Recipient] = true
		if !m.NextTry.After(now) {
			due = append(due, m.Message)
		}
	}
	return due, nil
}

func (b *box) Waiting(context.Context) ([]Message, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []Message
	for _, m := range b.all {
		if !m.done {
			out = append(out, m.Message)
		}
	}
	return out, nil
}

func (b *box) change(id int64, f func(*boxed)) error {
	return b.locked(func() error {
		i := slices.IndexFunc(b.all, func(m boxed) bool { return m.ID == id && !m.done })
		if i < 0 {
			return ErrGone
		}
		f(&b.all[i])
		return nil
	})
}

func (b *box) Sent(_ context.Context, id int64, _ time.Time) error {
	return b.change(id, func(m *boxed) { m.done, m.sent = true, true })
}

func (b *box) GiveUp(_ context.Context, id int64, _ time.Time) error {
	return b.change(id, func(m *boxed) { m.done = true })
}

func (b *box) Failed(_ context.Context, id int64, _ string, next time.Time) error {
	return b.change(id, func(m *boxed) { m.Attempts, m.NextTry = m.Attempts+1, next })
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

// phone takes letters, unless it is out.
type phone struct {
	mu      sync.Mutex // guards what follows
	letters []got
	out     error
}

type got struct {
	at time.Time
	Letter
}

func (p *phone) Send(_ context.Context, l Letter) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out != nil {
		return p.out
	}
	p.letters = append(p.letters, got{time.Now(), l})
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
	l := p.letters
	p.letters = nil
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
	t     *testing.T
	box   *box
	phone *phone
	stop  context.CancelFunc
	ended chan error
}

func anna() Recipient {
	return Recipient{
		Name: "phone", Kinds: Kinds(), HeadsUp: 30 * time.Minute, RepeatEvery: 15 * time.Minute, Repeats: 3, MaxPerHour: 12,
		Address: func() (string, string, error) { return "phone", "", nil },
	}
}

// start starts a kitchen in a synctest bubble. b is what an earlier one left.
func start(t *testing.T, b *box, people ...Recipient) *kitchen {
	t.Helper()
	if b == nil {
		b = &box{kept: map[string][]byte{}}
	}
	k := &kitchen{t: t, box: b, phone: &phone{}, ended: make(chan error, 1)}
	log := slog.New(slog.NewTextHandler(t.Output(), nil))
	var err error
	k.Notifier, err = New(t.Context(), b, b, people, Opts{Log: log, Link: "https://board.example", Open: func(string, string) (Sender, error) { return k.phone, nil }})
	if err != nil {
		t.Fatal(err)
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

// hear tells something of Bramble.
func (k *kitchen) hear(h Happening) {
	k.t.Helper()
	if h.Vessel == "" {
		h.Vessel, h.Name = "bramble", "Bramble"
	}
	if h.At.IsZero() {
		h.At = time.Now()
	}
	if err := k.Hear(k.t.Context(), h); err != nil {
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
