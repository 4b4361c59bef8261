package daemon

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// TestFridge has a jar fed, put into the fridge, and forgotten there: no word
// after a day, one after a week, another after a fortnight.
func TestFridge(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		var phone testPhone
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone, phone.parts)
		page := pageOf(h.Daemon)
		h.pass(t, time.Minute, nil)
		fed := time.Now()
		if _, err := h.Fed(t.Context(), "bramble", store.Feed{}); err != nil {
			t.Fatal(err)
		}
		if err := page.Fridge.Chill(t.Context(), "bramble", true); err != nil {
			t.Fatal(err)
		}
		if v := page.Watch.Now().Vessels[0]; v.Stage != web.Asleep || v.FridgeSince.IsZero() {
			t.Errorf("in the fridge it is %s since %v", v.Stage, v.FridgeSince)
		}
		jar := h.Vessels[0]
		said := func(after time.Duration) []notify.Message {
			if err := h.messages.Remind(t.Context(), fed.Add(after), jar); err != nil {
				t.Fatal(err)
			}
			h.pass(t, time.Minute, nil)
			letters, _ := phone.of(notify.FeedDue)
			return letters
		}
		day := 24 * time.Hour
		for _, tt := range []struct {
			after time.Duration
			want  int
		}{{2 * day, 0}, {7 * day, 1}, {8 * day, 1}, {14 * day, 2}, {15 * day, 2}} {
			if got := said(tt.after); len(got) != tt.want {
				t.Fatalf("after %v: %d messages, want %d: %v", tt.after, len(got), tt.want, got)
			}
		}
		if _, err := h.Fed(t.Context(), "bramble", store.Feed{}); err != nil {
			t.Fatal(err)
		}
		if _, in := h.Fridge.Since("bramble"); in {
			t.Error("it was fed and is still taken to be in the fridge")
		}
		h.close(t)
	})
}

// TestHolidayOfTheConfiguration has a jar forgotten in the fridge while the baker is away, by
// an absence with a date in the file: no word until he is home, and one then.
func TestHolidayOfTheConfiguration(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k, began := invented(t), time.Now()
		at := func(days int) string { return began.AddDate(0, 0, days).Format(time.RFC3339) }
		var phone testPhone
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone+"[[plan.away]]\nstart = "+at(5)+"\nend = "+at(15)+"\n", phone.parts)
		if _, err := h.Fed(t.Context(), "bramble", store.Feed{}); err != nil {
			t.Fatal(err)
		}
		if err := pageOf(h.Daemon).Fridge.Chill(t.Context(), "bramble", true); err != nil {
			t.Fatal(err)
		}
		for _, tt := range []struct{ day, told int }{{4, 0}, {7, 0}, {14, 0}, {15, 1}, {15, 1}, {16, 1}} {
			if err := h.messages.Remind(t.Context(), began.AddDate(0, 0, tt.day).Add(time.Minute), h.Vessels[0]); err != nil {
				t.Fatal(err)
			}
			h.pass(t, time.Minute, nil)
			letters, _ := phone.of(notify.FeedDue)
			if len(letters) != tt.told || tt.told > 0 && !strings.HasPrefix(letters[0].Title, "Back home") {
				t.Errorf("on day %d he was told %v", tt.day, letters)
			}
		}
		h.close(t)
	})
}

// TestSeen ends what is said again, from the page and by topic.
func TestSeen(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		var phone testPhone
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir)+tellPhone+"repeat_every = \"15m\"\nrepeats = 3\n", phone.parts)
		page := pageOf(h.Daemon)
		h.pass(t, time.Minute, nil)
		for i, end := range []func() error{
			func() error { return page.Reminders.Seen(t.Context(), page.Watch.Now().Asks[0].ID) },
			func() error { return h.link.execute(mqtt.Command{Kind: mqtt.CommandSeen, Subject: "bramble"}) },
		} {
			h.messages.Notify(notify.Event{Kind: notify.Peaked, Vessel: "bramble", Name: "Bramble", At: time.Now(), For: time.Now()})
			if asks := page.Watch.Now().Asks; len(asks) != 1 || !strings.Contains(asks[0].Text, "Bramble") {
				t.Fatalf("round %d: the page asks %v", i, asks)
			}
			if err := end(); err != nil {
				t.Fatal(err)
			}
			if asks := page.Watch.Now().Asks; len(asks) != 0 {
				t.Errorf("round %d: it was seen and the page still asks %v", i, asks)
			}
			if err := seenByTopic(h, "bramble"); err == nil {
				t.Errorf("round %d: no reminder is there, and seen is no error", i)
			}
			h.pass(t, time.Minute, nil)
		}
		h.close(t)
		if tops, _ := phone.of(notify.OnTop); len(tops) != 2 {
			t.Errorf("%d tops were told, want 2", len(tops))
		}
		for _, l := range phone.letters {
			if strings.HasPrefix(l.Title, "Again") {
				t.Errorf("said again although it was seen: %q", l.Title)
			}
		}
	})
}

// seenByTopic says by topic that a message was seen.
func seenByTopic(h *testDaemon, subject string) error {
	return h.link.execute(mqtt.Command{Kind: mqtt.CommandSeen, Subject: subject})
}
