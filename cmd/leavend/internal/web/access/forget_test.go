package access

import (
	"log/slog"
	"os"
	"testing"
	"time"
)

// TestForget forgets a password: the next server wants a new one, and the old
// file is kept.
func TestForget(t *testing.T) {
	dir, now := t.TempDir(), time.Now()
	if aside, err := Forget(dir, now); aside != "" || err != nil {
		t.Fatalf("without a password: %q, %v", aside, err)
	}
	open := func() *Keyring { return Open(dir, time.Now, slog.New(slog.DiscardHandler)) }
	k := open()
	k.file.Password = "a hash" // bcrypt has tests of its own
	k.mu.Lock()
	err := k.save()
	k.mu.Unlock()
	if err != nil {
		t.Fatal(err)
	}
	if open().SetupCode() != "" {
		t.Fatal("a set-up code although there is a password")
	}
	aside, err := Forget(dir, now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(aside); err != nil {
		t.Error("the old file is gone:", err)
	}
	if open().SetupCode() == "" {
		t.Error("no set-up code after the password was forgotten")
	}
}
