package text

import (
	"testing"
	"time"
)

func TestSpell(t *testing.T) {
	for d, want := range map[time.Duration]string{
		10 * time.Second: "10s", time.Minute: "1m", 90 * time.Second: "1m30s", 4 * time.Hour: "4h", 100 * time.Minute: "1h40m", 24 * time.Hour: "24h", 0: "0s", 100 * time.Millisecond: "100ms",
	} {
		if got := Spell(d); got != want {
			t.Errorf("Spell(%v) = %q, want %q", d, got, want)
		}
	}
}
