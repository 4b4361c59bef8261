package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store/dbfile"
)

// openLog opens the event log of a store with the consumers mqtt and phone.
func openLog(t *testing.T, s *Store) (l *event.Log, mqtt, phone *event.Consumer) {
	t.Helper()
	l, err := event.OpenLog(t.Context(), s.EventLog)
	if err != nil {
		t.Fatal(err)
	}
	mqtt, phone = l.Events("mqtt"), l.Letters("phone")
	if err := l.Begin(t.Context()); err != nil {
		t.Fatal(err)
	}
	return l, mqtt, phone
}

// peaked is the change that a call of the peak makes.
func peaked(w *handClock, n int) event.Change {
	body := fmt.Appendf(nil, `{"kind":"peak","text":"%d"}`, n)
	return event.Change{
		Records: []event.Record{{Body: body}},
		Journal: []event.Entry{{Kind: "event", Vessel: "Bramble", At: w.Now(), Body: Event{Kind: "peak", Data: body}}},
	}
}

func TestLogOutlivesARestart(t *testing.T) {
	s, w := newTestStore(t)
	ctx := t.Context()
	l, mqtt, _ := openLog(t, s)
	var stored int64
	for n := range 3 {
		c := peaked(w, n)
		c.Journal[0].Stored = func(id int64) { stored = id }
		if err := l.Commit(ctx, c); err != nil {
			t.Fatal(err)
		}
	}
	first, _ := mqtt.Next(w.Now())
	err := l.Commit(ctx, event.Change{
		Records: []event.Record{{To: "phone", Body: []byte(`{"kind":"top"}`), Expires: w.Now().Add(time.Hour)}},
		State:   map[string]any{"notify": map[string]int{"told": 1}},
		Moves:   map[string]int64{"mqtt": first.Seq},
	})
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	s = reopen(t, s.Path(), w)
	defer s.Close()
	_, mqtt, phone := openLog(t, s)
	if all := mqtt.Waiting(w.Now()); len(all) != 2 || all[0].Seq != first.Seq+1 {
		t.Errorf("mqtt has %+v", all)
	}
	if all := phone.Waiting(w.Now()); len(all) != 1 {
		t.Errorf("the phone has %+v", all)
	}
	if all := phone.Waiting(w.Now().Add(time.Hour)); len(all) != 0 {
		t.Errorf("after its hour the phone has %+v", all)
	}
	var told map[string]int
	if known, err := s.States.State(ctx, "notify", &told); !known || err != nil || told["told"] != 1 {
		t.Errorf("state %v, %v, %v", told, known, err)
	}
	if all, err := s.Journal.Events(ctx, Query{}); err != nil || len(all) != 3 || all[0].ID != stored {
		t.Errorf("the journal has %+v, %v", all, err)
	}
}

// The readings that an event was found in are on the disk before the event: a
// process that is killed finds it from them, and does not tell it again.
func TestEventTakesItsReadingsAlong(t *testing.T) {
	s, w := newTestStore(t)
	l, _, _ := openLog(t, s)
	s.Readings.Add(Reading{"Bramble", Distance, w.Now(), 100})
	if err := l.Commit(t.Context(), peaked(w, 1)); err != nil {
		t.Fatal(err)
	}
	if n := s.Stats().Buffered; n != 0 {
		t.Errorf("%d readings are in memory only", n)
	}
}

// An entry that no disk can take does not hold up the rest of its change.
func TestEntryThatCannotBeStored(t *testing.T) {
	s, w := newTestStore(t)
	l, mqtt, _ := openLog(t, s)
	bad := peaked(w, 0)
	bad.Journal = append(bad.Journal, event.Entry{Kind: "event", Vessel: "Bramble", At: w.Now(), Body: func() {}}, event.Entry{Kind: "event"})
	if err := l.Commit(t.Context(), bad); err != nil {
		t.Fatal(err)
	}
	all, err := s.Journal.Events(t.Context(), Query{})
	if st := s.Stats(); err != nil || len(all) != 1 || st.Unstorable != 2 || st.Unstored == nil || len(mqtt.Waiting(w.Now())) != 1 {
		t.Errorf("%d events, %v; %+v", len(all), err, st)
	}
}

func TestLogOnAFullDisk(t *testing.T) {
	s, w := newTestStore(t)
	l, mqtt, _ := openLog(t, s)
	limitPages(t, s, 1)
	var err error
	n := 0
	for ; n < 500 && err == nil; n++ {
		c := peaked(w, n)
		c.Journal[0].Body = Event{Kind: "peak", Data: json.RawMessage(fmt.Sprintf(`{"text":"%0200d"}`, n))}
		err = l.Commit(t.Context(), c)
	}
	if !errors.Is(err, failure.ErrFull) {
		t.Fatalf("after %d events: %v", n, err)
	}
	if got := len(mqtt.Waiting(w.Now())); got != n {
		t.Errorf("%d events can be sent, want %d", got, n)
	}
	limitPages(t, s, 1<<20)
	if err := l.Retry(t.Context()); err != nil {
		t.Fatal(err)
	}
	if all, err := s.Journal.Events(t.Context(), Query{}); err != nil || len(all) != n {
		t.Errorf("with room again %d events are stored, %v; want %d", len(all), err, n)
	}
}

// A store of before had an outbox; what waited in it comes out of the log, and
// what was sent does not.
func TestOutboxGoesIntoTheLog(t *testing.T) {
	path := filepath.Join(t.TempDir(), "leavend.db")
	db := dbfile.Connect(path, 1)
	if err := schema.Migrate(t.Context(), db, 2); err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{
		`INSERT INTO outbox (recipient, kind, vessel, text, body, event, expires, done) VALUES ('phone', 'top', 'bramble', 'old', '{"kind":"top"}', 1000, 0, 5)`,
		`INSERT INTO outbox (recipient, kind, vessel, text, body, event, expires) VALUES ('phone', 'top', 'bramble', 'one', '{"kind":"top","vessel":"bramble","name":"Bramble"}', 1000, 4102444800000)`,
		`INSERT INTO outbox (recipient, kind, vessel, text, body, event, expires) VALUES ('phone (urgent)', 'mat-fault', 'mat', 'The mat is stuck.', 'null', 1000, 0)`,
	} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	db.Close()
	s := reopen(t, path, newHandClock())
	defer s.Close()
	held, err := s.EventLog.LoadLog(t.Context())
	if err != nil || len(held.Records) != 2 || held.Seq != 3 {
		t.Fatalf("the log holds %+v, %v", held, err)
	}
	if r := held.Records[0]; r.To != "phone" || !r.Expires.Equal(time.UnixMilli(4102444800000)) || string(r.Body) != `{"kind":"top","vessel":"bramble","name":"Bramble"}` {
		t.Errorf("got %+v, %s", r, r.Body)
	}
	var n struct {
		Kind, Vessel, Text string
		At                 time.Time
	}
	if err := json.Unmarshal(held.Records[1].Body, &n); err != nil || n.Kind != "mat-fault" || n.Text != "The mat is stuck." || !n.At.Equal(time.Unix(1, 0)) {
		t.Errorf("got %s, %v", held.Records[1].Body, err)
	}
}
