package access

import (
	"net/netip"
	"testing"
	"time"
)

func TestGuessing(t *testing.T) {
	now := time.Date(2026, 3, 14, 11, 42, 10, 0, time.UTC)
	tr := NewTries(func() time.Time { return now })
	a := netip.MustParseAddr("2001:db8::1")
	allowed := 0
	for range 100 {
		if tr.Take(a) == 0 {
			allowed++
		}
	}
	if allowed != FreeTries {
		t.Errorf("%d tries at once, want %d", allowed, FreeTries)
	}
	if tr.Take(netip.MustParseAddr("2001:db8::ffff")) == 0 {
		t.Error("another address of the same /64 starts from zero")
	}
	if tr.Take(netip.MustParseAddr("2001:db8:0:1::1")) != 0 {
		t.Error("another house waits too")
	}
	got := 0
	for end := now.Add(24 * time.Hour); now.Before(end); now = now.Add(time.Second) {
		if tr.Take(a) == 0 {
			got++
		}
	}
	if got > 120 {
		t.Errorf("%d tries in a day of trying, want at most 120", got)
	}
	everybody := 0
	for i := range 3000 {
		if tr.Take(netip.AddrFrom4([4]byte{10, 1, byte(i >> 8), byte(i)})) == 0 {
			everybody++
		}
	}
	if everybody > triesAMinute {
		t.Errorf("%d tries in a minute from everywhere, want at most %d", everybody, triesAMinute)
	}
	if len(tr.by) > maxGuessers {
		t.Errorf("the table has %d rows", len(tr.by))
	}
}
