package cli

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/cmd/leavend/internal/store"
)

// TestRestoreFromThePage damages a history that has a nightly backup. The page
// offers the backup, and one press has the program start again with it.
func TestRestoreFromThePage(t *testing.T) {
	t.Parallel()
	page := freeport.Address(t)
	config, dir := farConfig(t, "127.0.0.1:1", freeport.Address(t), page)
	db := filepath.Join(dir, "data", "leavend.db")
	damagedHistory(t, db)
	leavendtest.Start(t, program("run", "--config", config))
	setup := func() (offer *struct{ Made time.Time }, ok bool) {
		r, err := http.Get("http://" + page + "/api/v1/setup")
		if err != nil {
			return nil, false
		}
		defer r.Body.Close()
		var got struct {
			Restore *struct{ Made time.Time }
		}
		return got.Restore, json.NewDecoder(r.Body).Decode(&got) == nil && r.StatusCode == http.StatusOK || got.Restore != nil
	}
	var offer *struct{ Made time.Time }
	leavendtest.Eventually(t, "the page answers", func() bool { var ok bool; offer, ok = setup(); return ok })
	if offer == nil || time.Since(offer.Made).Abs() > time.Hour {
		t.Fatalf("the backup that is offered: %+v", offer)
	}
	r, err := http.Post("http://"+page+"/api/v1/restore", "application/json", nil)
	if err != nil {
		t.Fatal(err)
	}
	said, _ := io.ReadAll(r.Body)
	r.Body.Close()
	if r.StatusCode != http.StatusNoContent {
		t.Fatalf("%d %s", r.StatusCode, said)
	}
	leavendtest.Eventually(t, "the page is back and offers nothing", func() bool { offer, ok := setup(); return ok && offer == nil })
	r, err = http.Get("http://" + page + "/api/v1/vessels/pilot/book")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	var book struct{ Feeds []struct{ Note string } }
	if err := json.NewDecoder(r.Body).Decode(&book); err != nil || len(book.Feeds) != 1 || book.Feeds[0].Note != "in the backup" {
		t.Errorf("the journal: %+v, %v", book, err)
	}
	if kept, _ := filepath.Glob(db + ".before-*"); len(kept) == 0 {
		t.Error("the former history is not kept")
	}
}

// damagedHistory makes a history with a nightly backup, and damages it.
func damagedHistory(t *testing.T, db string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(db), 0o700); err != nil {
		t.Fatal(err)
	}
	s, _, err := store.Open(t.Context(), db, store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	_, err = s.Journal.AddFeed(t.Context(), store.Feed{Vessel: "pilot", At: time.Now().Add(-48 * time.Hour), KeptG: 20, WaterG: 20, Note: "in the backup"})
	if err == nil {
		_, err = s.Copies.BackupDay(t.Context(), filepath.Join(filepath.Dir(db), "backups"), time.Now(), store.BackupOpts{Keep: 2})
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(db)
	if err != nil {
		t.Fatal(err)
	}
	for i := 4096; i < len(text); i += 3 {
		text[i] ^= 0x5a
	}
	if err := os.WriteFile(db, text, 0o600); err != nil {
		t.Fatal(err)
	}
}
