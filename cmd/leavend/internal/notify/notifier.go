package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// Recipient is somebody who is told.
type Recipient struct {
	Name    string
	Address func() (address, key string, err error) // fetched anew for each send
	Kinds   []Kind
	// QuietFrom and QuietTo are minutes since midnight; equal is no quiet hours.
	QuietFrom, QuietTo int
	HeadsUp            time.Duration // before the top; 0 is never
	RepeatEvery        time.Duration // until somebody comes; 0 is once
	Repeats            int
	MaxPerHour         int // 0 is no limit
	// QuietUpkeep says a peak that no bake waits for once, and says nothing before and
	// after it.
	QuietUpkeep bool
	// Wanted reports whether there is anybody behind the address now; nil is yes.
	Wanted func() bool
}

// Memory keeps what must be known again after a restart, as JSON.
type Memory interface {
	State(ctx context.Context, name string, into any) (bool, error)
	SetState(ctx context.Context, name string, v any) error
}

// Opts are the choices of New; each has a default.
type Opts struct {
	Words Words
	Now   func() time.Time                          // time.Now
	Open  func(address, key string) (Sender, error) // Open
	Link  string                                    // address of the page, such as "https://board:8420", for links; "" makes none
	Look  time.Duration                             // between two looks at what is due; 10 s
	Log   *slog.Logger                              // slog.Default()

	// Read turns an event of the log into what happened; false where nobody is
	// told of it. Nil reads none.
	Read func(event.Event) (Event, bool)
}

// Stats is how one recipient stands.
type Stats struct {
	Waiting      int
	Sent, Failed uint64    // Failed counts attempts
	Trouble      string    // why the last attempt failed; "" when it did not
	Since        time.Time // when it began to fail
}

// Notifier tells several recipients what happens. Its methods may be called
// from any goroutine. Hear and Expect wait for the disk at most, never for the
// network.
type Notifier struct {
	o      Opts
	log    *event.Log
	events *event.Consumer
	memory Memory
	people []Recipient
	wake   chan struct{}
	key    []byte // signs links

	mu      sync.Mutex // guards what follows
	state   state
	changed bool
	posted  []event.Record // go to the log with the next save

	sending sync.Mutex // guards what follows
	lanes   map[string]*lane
	stats   map[string]*Stats
}

// stateName is where the memory keeps ours.
const stateName = "notify"

// consumer is our name in the event log.
const consumer = "notify"

// New makes a notifier, with what it knew before the restart. It takes events
// from the log, and keeps there what each recipient is not told yet.
func New(ctx context.Context, log *event.Log, memory Memory, people []Recipient, o Opts) (*Notifier, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Open == nil {
		o.Open = Open
	}
	if o.Look == 0 {
		o.Look = 10 * time.Second
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	n := &Notifier{
		o: o, log: log, events: log.Events(consumer), memory: memory, people: people, wake: make(chan struct{}, 1),
		lanes: map[string]*lane{}, stats: map[string]*Stats{},
	}
	for i, p := range people {
		n.stats[p.Name] = &Stats{}
		for _, name := range []string{p.Name, p.Name + urgentLane} {
			n.lanes[name] = &lane{to: i, urgent: name != p.Name, letters: log.Letters(name)}
		}
	}
	if err := n.recall(ctx); err != nil {
		return nil, fmt.Errorf("notify: %w", err)
	}
	return n, nil
}

// Stats returns how each recipient stands.
func (n *Notifier) Stats() map[string]Stats {
	now := n.o.Now()
	n.sending.Lock()
	defer n.sending.Unlock()
	out := make(map[string]Stats, len(n.stats))
	for name, s := range n.stats {
		one := *s
		one.Waiting = len(n.lanes[name].letters.Waiting(now)) + len(n.lanes[name+urgentLane].letters.Waiting(now))
		out[name] = one
	}
	return out
}

// urgentLane ends the names of lanes that nothing holds up.
const urgentLane = " (urgent)"

// laneOf returns the lane that a kind of message takes to a recipient.
func laneOf(name string, k Kind) string {
	if k.urgent() {
		return name + urgentLane
	}
	return name
}

// post writes notices for everyone who wants their kind. They go to the log
// with the next save. The caller holds mu.
func (n *Notifier) post(to func(Recipient) bool, notices ...Notice) {
	for _, note := range notices {
		for _, p := range n.people {
			if p.wants(note.Kind) && (to == nil || to(p)) {
				n.posted = append(n.posted, n.record(p, note))
			}
		}
	}
}

// wants reports whether a recipient is to be told of a kind.
func (p Recipient) wants(k Kind) bool {
	return slices.Contains(p.Kinds, k) && (p.Wanted == nil || p.Wanted())
}

func (n *Notifier) record(p Recipient, note Notice) event.Record {
	body, err := json.Marshal(note)
	if err != nil { // only a number that is none could do that, and Hear lets none in
		body = json.RawMessage("null")
	}
	return event.Record{To: laneOf(p.Name, note.Kind), Body: body, Expires: expires(note, n.o.Now())}
}

// expires is when a notice is not worth sending any more.
func expires(note Notice, now time.Time) time.Time {
	switch note.Kind {
	case HeadsUp, TargetSoon:
		return note.At.Add(5 * time.Minute)
	case PlanStep:
		if note.Until.After(now) {
			return note.Until.Add(30 * time.Minute)
		}
	}
	return now.Add(note.Kind.life())
}

// quiet reports whether a recipient has quiet hours at now, by the clock on
// their wall.
func (p Recipient) quiet(now time.Time, zone *time.Location) bool {
	if p.QuietFrom == p.QuietTo {
		return false
	}
	now = now.In(zone)
	minute := now.Hour()*60 + now.Minute()
	if p.QuietFrom < p.QuietTo {
		return minute >= p.QuietFrom && minute < p.QuietTo
	}
	return minute >= p.QuietFrom || minute < p.QuietTo
}

// save puts what was posted and the memory into the log, together with the
// place of an event that they follow from, so that a kill leaves all or nothing
// of it. Without error all of it is on the disk. The caller holds mu.
func (n *Notifier) save(ctx context.Context, moves map[string]int64) error {
	if !n.changed && len(n.posted) == 0 && len(moves) == 0 {
		return nil
	}
	c := event.Change{Records: n.posted, Moves: moves}
	if n.changed {
		c.State = map[string]any{stateName: n.state}
	}
	n.posted, n.changed = nil, false
	err := n.log.Commit(ctx, c)
	if len(c.Records) > 0 {
		n.poke()
	}
	if err != nil {
		return fmt.Errorf("notify: what is to be told is in memory only, and a power cut would lose it: %w", err)
	}
	return nil
}

// poke has Run look at once.
func (n *Notifier) poke() {
	select {
	case n.wake <- struct{}{}:
	default:
	}
}

var errNoSuch = errors.New("notify: no recipient has that name")

// Try sends a test to each recipient now, or to the one called name, past the
// outbox, and tells what came of each.
func Try(ctx context.Context, people []Recipient, name string, o Opts, tell func(recipient string, err error)) error {
	open, now := o.Open, o.Now
	if open == nil {
		open = Open
	}
	if now == nil {
		now = time.Now
	}
	found := false
	for _, p := range people {
		if name != "" && p.Name != name {
			continue
		}
		found = true
		at := now()
		l := o.Words.Say(Notice{Kind: Test, At: at}, at)
		l.ID = fmt.Sprintf("test-%d", at.UnixNano())
		tell(p.Name, (&line{}).send(ctx, p, open, l))
	}
	if !found {
		return errNoSuch
	}
	return nil
}

// line is the way to one recipient, kept while the address stays the same.
type line struct {
	address, key string
	sender       Sender
}

// send sends one letter with the time limit of a send.
func (w *line) send(ctx context.Context, p Recipient, open func(address, key string) (Sender, error), l Letter) error {
	address, key, err := p.Address()
	if err != nil {
		// It names the file or variable, never what is in it.
		return &Failure{Address, err.Error()}
	}
	if w.sender == nil || address != w.address || key != w.key {
		s, err := open(address, key)
		if err != nil {
			return failure(err)
		}
		*w = line{address, key, s}
	}
	ctx, cancel := context.WithTimeout(ctx, sendLimit)
	defer cancel()
	return failure(w.sender.Send(ctx, l))
}
