package web

import (
	"context"
	"fmt"
	"syscall"
	"testing"

	"leavend/cmd/leavend/internal/failure"
)

// fullFeeds is a journal on a full disk.
type fullFeeds struct {
	Feeds
	err error
}

func (f fullFeeds) AddFeed(context.Context, string, Feed) (Feed, error) { return Feed{}, f.err }

// TestFullDisk answers what cannot be stored with 507 (RFC 4918, section 11.5) and
// words of its own.
func TestFullDisk(t *testing.T) {
	for _, err := range []error{fmt.Errorf("store: %w", failure.ErrFull), fmt.Errorf("write page-access.json: %w", syscall.ENOSPC)} {
		house, _, v := newKitchen(t, Opts{})
		b := house.backend()
		b.Feeds = fullFeeds{b.Feeds, err}
		s, newErr := New(b, Opts{Now: fixedClock})
		if newErr != nil {
			t.Fatal(newErr)
		}
		v.h = s.Handler()
		if code, got := v.do("POST", "/api/v1/vessels/bramble/feeds", `{}`); code != 507 || got["code"] != "disk-full" {
			t.Errorf("%v: %d %v", err, code, got)
		}
	}
}
