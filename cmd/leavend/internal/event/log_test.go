package event

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"leavend/peak"
)

// card is a disk in memory, which can be full, stand still, or lose the answer
// to a write that was made.
type card struct {
	Contents
	entries []Entry
	state   map[string]json.RawMessage
	full    bool
	stands  chan struct{} // closed when the disk goes on; nil when it does not stand
	mute    bool          // what is written is not confirmed
}

func newCard() *card {
	return &card{Contents: Contents{Cursors: map[string]int64{}}, state: map[string]json.RawMessage{}}
}

func (c *card) LoadLog(context.Context) (Contents, error) {
	held := c.Contents
	held.Records = slices.Clone(c.Records)
	return held, nil
}

var errFull = errors.New("the disk is full")

func (c *card) SaveLog(_ context.Context, s Saved) error {
	if c.stands != nil {
		<-c.stands
	}
	if c.full {
		return errFull
	}
	if s.Number > c.Number {
		c.Number = s.Number
		c.Records = append(c.Records, s.Records...)
		c.entries = append(c.entries, s.Journal...)
		for name, v := range s.State {
			c.state[name] = v
		}
		for name, at := range s.Moves {
			c.Cursors[name] = at
		}
		for _, name := range s.Gone {
			delete(c.Cursors, name)
		}
		c.Records = slices.DeleteFunc(c.Records, func(r Record) bool { return slices.Contains(s.Done, r.Seq) })
		for _, r := range s.Records {
			c.Seq = max(c.Seq, r.Seq)
		}
	}
	if c.mute {
		return context.DeadlineExceeded
	}
	return nil
}

// open opens a log with the consumers mqtt and phone.
func open(t *testing.T, disk Disk) (l *Log, mqtt, phone *Consumer) {
	t.Helper()
	l, err := OpenLog(t.Context(), disk)
	if err != nil {
		t.Fatal(err)
	}
	mqtt, phone = l.Events("mqtt"), l.Letters("phone")
	if err := l.Begin(t.Context()); err != nil {
		t.Log(err)
	}
	return l, mqtt, phone
}

// say appends a record with a number in it.
func say(l *Log, to string, n int) error {
	ctx, end := context.WithTimeout(context.Background(), 10*time.Second)
	defer end()
	return l.Commit(ctx, Change{Records: []Record{{To: to, Body: fmt.Append(nil, n)}}, Journal: []Entry{{Kind: "event", Body: n}}})
}

// all reads everything a consumer has waiting, and is done with it.
func all(t *testing.T, c *Consumer) []string {
	t.Helper()
	var got []string
	for r, more := c.Next(time.Now()); more; r, more = c.Next(time.Now()) {
		got = append(got, string(r.Body))
		if err := c.Done(t.Context(), r); err != nil {
			t.Log(err)
		}
	}
	return got
}

func want(t *testing.T, what string, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s: got %q, want %q", what, got, want)
	}
}

func TestEachConsumerGetsItsRecordsInOrder(t *testing.T) {
	disk := newCard()
	l, mqtt, phone := open(t, disk)
	for n := range 4 {
		if err := say(l, map[bool]string{true: "phone"}[n == 2], n); err != nil {
			t.Fatal(err)
		}
	}
	want(t, "mqtt", all(t, mqtt), "0", "1", "3")
	if n := len(disk.Records); n != 1 {
		t.Errorf("%d records are left on the disk, want the one for the phone", n)
	}
	want(t, "phone", all(t, phone), "2")
	if n := len(disk.Records); n != 0 {
		t.Errorf("%d records are left on the disk", n)
	}
}

// A run that was killed goes on where its consumers were; a consumer that is
// no more holds nothing up.
func TestRestartGoesOnWhereItWas(t *testing.T) {
	disk := newCard()
	l, mqtt, _ := open(t, disk)
	for n := range 4 {
		_ = say(l, "", n)
	}
	_ = say(l, "phone", 4)
	first, _ := mqtt.Next(time.Now())
	if err := mqtt.Done(t.Context(), first); err != nil {
		t.Fatal(err)
	}
	l, mqtt, phone := open(t, disk)
	want(t, "mqtt", all(t, mqtt), "1", "2", "3")
	want(t, "phone", all(t, phone), "4")
	_ = say(l, "phone", 5)

	l, err := OpenLog(t.Context(), disk)
	if err != nil {
		t.Fatal(err)
	}
	late := l.Events("page")
	if err := l.Begin(t.Context()); err != nil {
		t.Fatal(err)
	}
	want(t, "a new consumer", all(t, late))
	if len(disk.Records) != 0 || len(disk.Cursors) != 1 {
		t.Errorf("the disk holds %+v of consumers that are no more", disk.Contents)
	}
}

// A full disk delays what is stored and nothing else; with room again all of
// it is stored, once.
func TestFullDiskHoldsUpNoDelivery(t *testing.T) {
	disk := newCard()
	l, mqtt, phone := open(t, disk)
	_ = say(l, "", 0)
	disk.full = true
	for n := 1; n < 4; n++ {
		if err := say(l, "", n); !errors.Is(err, errFull) {
			t.Errorf("the error is %v", err)
		}
	}
	_ = say(l, "phone", 4)
	want(t, "mqtt on a full disk", all(t, mqtt), "0", "1", "2", "3")
	disk.full = false
	if err := l.Retry(t.Context()); err != nil {
		t.Fatal(err)
	}
	if len(disk.entries) != 5 || len(disk.Records) != 1 || disk.Cursors["mqtt"] == 0 {
		t.Errorf("with room again the disk holds %d entries and %d records, mqtt at %d", len(disk.entries), len(disk.Records), disk.Cursors["mqtt"])
	}
	want(t, "phone", all(t, phone), "4")
	_, mqtt, _ = open(t, disk)
	want(t, "mqtt after a restart", all(t, mqtt))
}

// A write whose answer is lost may have been made; it is not made twice.
func TestUnconfirmedWriteIsNotMadeTwice(t *testing.T) {
	disk := newCard()
	l, _, _ := open(t, disk)
	disk.mute = true
	_ = say(l, "", 0)
	_ = say(l, "", 1)
	disk.mute = false
	if err := l.Retry(t.Context()); err != nil {
		t.Fatal(err)
	}
	if len(disk.entries) != 2 || len(disk.Records) != 2 {
		t.Errorf("the disk holds %d entries and %d records, want 2 of each", len(disk.entries), len(disk.Records))
	}
}

// A disk that does not answer holds up a record by no more than the time that
// its writer gives it.
func TestDiskThatStandsStill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		disk := newCard()
		l, mqtt, _ := open(t, disk)
		disk.stands = make(chan struct{})
		began := time.Now()
		for n := range 3 {
			if err := say(l, "", n); !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("the error is %v", err)
			}
		}
		if took := time.Since(began); took != 30*time.Second {
			t.Errorf("it took %v", took)
		}
		if got := len(mqtt.Waiting(time.Now())); got != 3 {
			t.Errorf("%d records can be sent, want 3", got)
		}
		close(disk.stands)
		synctest.Wait()
		if err := l.Retry(t.Context()); err != nil || len(disk.entries) != 3 {
			t.Errorf("the disk holds %d entries: %v", len(disk.entries), err)
		}
	})
}

func TestLogIsBounded(t *testing.T) {
	disk := newCard()
	disk.full = true
	l, mqtt, _ := open(t, disk)
	var many Change
	for n := range recordsKept - 10 {
		many.Records, many.Journal = append(many.Records, Record{Body: fmt.Append(nil, n)}), append(many.Journal, Entry{Body: n})
	}
	_ = l.Commit(t.Context(), many)
	for n := range 20 {
		_ = l.Commit(t.Context(), Change{Records: []Record{{Body: fmt.Append(nil, n)}}, Journal: []Entry{{Body: n}}})
	}
	if n := len(mqtt.Waiting(time.Now())); n != recordsKept || mqtt.Lost() != 10 {
		t.Errorf("%d records wait and %d are lost", n, mqtt.Lost())
	}
	if n := len(l.next.Records); n > recordsKept+1 || len(l.next.Journal) != entriesKept {
		t.Errorf("%d records and %d journal entries wait for the disk", n, len(l.next.Journal))
	}
}

func TestExpiredRecordIsNotGiven(t *testing.T) {
	l, _, phone := open(t, nil)
	now := time.Now()
	for n := range 2 {
		_ = l.Commit(t.Context(), Change{Records: []Record{{To: "phone", Body: fmt.Append(nil, n), Expires: now.Add(time.Duration(n) * time.Hour)}}})
	}
	if all := phone.Waiting(now); len(all) != 1 || string(all[0].Body) != "1" {
		t.Errorf("waiting: %+v", all)
	}
}

// What is not known stays unknown in the log, and NaN does not spoil it.
func TestEventThroughTheLog(t *testing.T) {
	at := time.Date(2026, 11, 28, 22, 0, 0, 0, time.UTC)
	before := Event{
		Kind: Peak, Subject: "bramble", At: at, Text: "Bramble is at its peak.", Past: true,
		Detected: peak.Event{FeedAt: at.Add(-6 * time.Hour), PeakAt: at, RiseRatio: math.NaN(), RiseMM: 41.5, HeightMM: math.Inf(1), Source: "marked"},
	}
	text, err := json.Marshal(before)
	if err != nil {
		t.Fatal(err)
	}
	var after Event
	if err := json.Unmarshal(text, &after); err != nil {
		t.Fatal(err)
	}
	d := after.Detected
	if after.Kind != Peak || after.Text != before.Text || !after.Past || !d.PeakAt.Equal(at) || d.RiseMM != 41.5 || !math.IsNaN(d.RiseRatio) || !math.IsNaN(d.HeightMM) {
		t.Errorf("got %+v\nfrom %s", after, text)
	}
	alarm := Event{Kind: AlarmRaised, Subject: SubjectMat, Alarm: AlarmKey{Subject: SubjectMat, Reason: "stuck-on", Part: "plug"}}
	text, _ = json.Marshal(alarm)
	if err := json.Unmarshal(text, &after); err != nil || after.Alarm != alarm.Alarm {
		t.Errorf("got %+v, %v", after.Alarm, err)
	}
}
