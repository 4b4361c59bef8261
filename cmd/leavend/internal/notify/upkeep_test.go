package notify

import (
	"testing"
	"testing/synctest"
	"time"
)

// TestQuietUpkeep: a week in which a starter is only kept is one message; a bake is
// told in full.
func TestQuietUpkeep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		quiet := anna()
		quiet.QuietUpkeep = true
		k := start(t, nil, quiet)
		defer k.close()
		for week := range 4 { // a month
			bake := week == 3
			peak := time.Now().Add(5 * time.Hour)
			k.hear(Event{Kind: Fed})
			expect := func() {
				if err := k.Expect(t.Context(), Outlook{Vessel: "bramble", Name: "Bramble", At: peak, Bake: bake}); err != nil {
					t.Error(err)
				}
				synctest.Wait()
			}
			pass(4*time.Hour + 40*time.Minute)
			expect()
			pass(20 * time.Minute)
			k.hear(Event{Kind: Peaked, For: time.Now(), Bake: bake})
			pass(3 * time.Hour)
			k.hear(Event{Kind: Fell, For: time.Now().Add(-3 * time.Hour), Bake: bake})
			pass(6*24*time.Hour + 16*time.Hour)
			got := titles(k.phone.take())
			if !bake && len(got) != 1 {
				t.Errorf("a quiet week is told in %q", got)
			}
			if bake && (len(got) < 3 || len(got) > 6) { // before, at, again and after the peak
				t.Errorf("a bake is told in %q", got)
			}
		}
	})
}
