package notify

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// After a holiday one message says what the starter needs, and what else it wants.
func TestBackHome(t *testing.T) {
	for _, tt := range []struct {
		feeds int
		want  string
	}{
		{0, "Give it its usual feed."}, {1, "give it 1 feed, and bake"}, {2, "give it about 2 feeds, and bake"},
	} {
		synctest.Test(t, func(t *testing.T) {
			k := start(t, nil, anna())
			defer k.close()
			fed := time.Now()
			k.hear(Event{Kind: FeedOverdue, For: fed.Add(-7 * 24 * time.Hour)})
			k.want("Bramble needs feeding")
			k.hear(Event{Kind: Fed, For: fed})
			pass(8 * 24 * time.Hour)
			for range 40 {
				k.hear(Event{Kind: DiscardAged, For: fed})
				k.hear(Event{Kind: BackHome, For: fed, Count: tt.feeds, Part: "2000-01-09"})
				k.hear(Event{Kind: FeedOverdue, For: fed, Late: true})
				pass(10 * time.Minute)
			}
			l := k.want("Back home: Bramble")
			if !strings.Contains(l[0].Text, tt.want) || !strings.Contains(l[0].Text, "oldest discard") {
				t.Errorf("it says %q", l[0].Text)
			}
		})
	}
}
