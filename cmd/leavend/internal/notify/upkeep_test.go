package notify

import (
	"strings"
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

// TestMonthOfMessages lives through four weeks of a starter that is fed each Saturday and
// kept in the fridge: its jar is not washed, its discard grows old, and a loaf is baked in
// the last week. A quiet week is one message; what can wait goes with it.
func TestMonthOfMessages(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		quiet := anna()
		quiet.QuietUpkeep = true
		k := start(t, nil, quiet)
		defer k.close()
		k.hear(Event{Kind: Fed})
		oldest := time.Now()
		for week := range 4 {
			bake := week == 3
			for hour := range 7 * 24 {
				if hour == 5 {
					k.hear(Event{Kind: Peaked, For: time.Now(), Bake: bake})
					k.hear(Event{Kind: BakerPresent})
				}
				pass(time.Hour)
				if week > 0 { // the journal is looked at all the time
					k.hear(Event{Kind: JarDirty, For: oldest, Count: 5})
					k.hear(Event{Kind: DiscardAged, For: oldest})
				}
			}
			k.hear(Event{Kind: Fed})
			all := k.phone.take()
			if len(all) != 1 {
				t.Errorf("week %d is told in %q", week, titles(all))
			}
			if carried := strings.Contains(all[0].Text, "clean one") && strings.Contains(all[0].Text, "discard"); carried != (week == 1) {
				t.Errorf("week %d: %q", week, all[0].Text)
			}
		}
	})
}

// TestUpkeepByItself: where nothing else is told for nine days, what can wait is.
func TestUpkeepByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		oldest := time.Now()
		k.hear(Event{Kind: FeedOverdue, For: oldest})
		k.want("Bramble needs feeding")
		for range 13 * 24 {
			pass(time.Hour)
			k.hear(Event{Kind: DiscardAged, For: oldest})
		}
		k.want("Bramble: old discard")
		k.hear(Event{Kind: Fed})
		k.hear(Event{Kind: DiscardAged, For: oldest})
		pass(10 * 24 * time.Hour)
		k.hear(Event{Kind: DiscardAged, For: oldest})
		k.want() // it was told
		k.hear(Event{Kind: DiscardAged, For: oldest.Add(24 * time.Hour)})
		k.want("Bramble: old discard") // the next oldest
	})
}

// What is asked or warned of is told once.
func TestWarnedOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		fed := time.Now()
		pass(4 * time.Hour)
		rim := Event{Kind: RimNear, Name: "Trough", Vessel: "trough", Bowl: true, For: fed, Until: time.Now().Add(time.Hour), LeftMM: 20, Late: true}
		away := Event{Kind: FridgeAsked, For: fed, Until: time.Now().Add(-time.Hour), Chilled: true}
		for range 8 * 24 {
			k.hear(rim)
			k.hear(away)
			pass(time.Hour)
			rim.LeftMM = max(rim.LeftMM-5, 0)
		}
		l := k.want("Trough comes near its rim", "Is Bramble in the fridge?")
		for i, want := range []string{"20 mm below the rim, and would rise over it before about 05:00", "its sensors have seen it outside since 03:00"} {
			if !strings.Contains(l[i].Text, want) {
				t.Errorf("%q does not say %q", l[i].Text, want)
			}
		}
	})
}
