package mqtt

import (
	"fmt"
	"strings"
	"testing"
)

func contains(s, part string) bool { return strings.Contains(s, part) }

func TestNewerStateTakesThePlaceOfOlder(t *testing.T) {
	q := newQueue()
	for i := range 1000 {
		q.state("a/state", fmt.Append(nil, i))
		q.state("b/state", fmt.Append(nil, -i))
	}
	got := q.takeStates(10)
	if len(got) != 2 || string(got[0].payload) != "999" || string(got[1].payload) != "-999" {
		t.Errorf("took %v, want the latest of a and b", got)
	}
	if states, stale := q.waiting(); states != 0 || stale != 1998 {
		t.Errorf("%d states wait and %d were replaced, want 0 and 1998", states, stale)
	}
	q.resend()
	if got := q.takeStates(10); len(got) != 2 {
		t.Errorf("after a new connection %d states are sent again, want 2", len(got))
	}
}

func TestRemovedTopicIsForgotten(t *testing.T) {
	q := newQueue()
	q.state("a", nil)
	for _, m := range q.takeStates(1) {
		q.stateDone(m)
	}
	q.resend()
	if got := q.takeStates(1); len(got) != 0 {
		t.Errorf("a removed topic is sent again: %v", got)
	}
}
