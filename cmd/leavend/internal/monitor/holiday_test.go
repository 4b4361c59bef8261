package monitor

import (
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
)

// An absence with a date of the configuration is a holiday, until the page says otherwise.
func TestHoliday(t *testing.T) {
	m, _ := watched(t, "bowl", time.Now(), nil)
	m.Conf = configtest.Parse(t, "timezone = \"Europe/Oslo\"\n[[plan.away]]\nstart = \"2026-12-20 10:00\"\nend = \"2026-12-27 18:00\"\n[[plan.away]]\nstart = \"2026-12-10 10:00\"\nend = \"2026-12-10 18:00\"\n")
	at := func(day, hour int) time.Time { return time.Date(2026, 12, day, hour, 0, 0, 0, m.Conf.Timezone) }
	look := func(day, hour int, away, home bool) {
		t.Helper()
		_, isAway := m.Rules().AwayAt(at(day, hour))
		if _, isHome := m.Rules().HomeFrom(at(day, hour)); isAway != away || isHome != home {
			t.Errorf("on the %dth at %d: away %v, home %v", day, hour, isAway, isHome)
		}
	}
	set := func(h Holiday) {
		t.Helper()
		if err := m.Rules().SetHoliday(t.Context(), h); err != nil {
			t.Fatal(err)
		}
	}
	look(20, 9, false, false)
	look(20, 10, true, false)
	look(27, 17, true, false)
	look(27, 18, false, true)
	look(28, 18, false, false)
	look(10, 12, true, false)
	look(10, 19, false, false) // from an errand he is not told
	if next, own := m.Rules().NextHoliday(at(11, 0)); own || !next.From.Equal(at(20, 10)) {
		t.Errorf("next is %+v, own %v", next, own)
	}
	set(Holiday{at(20, 10), at(24, 12)}) // home sooner
	look(24, 11, true, false)
	look(24, 12, false, true)
	look(26, 0, false, false)
	set(Holiday{at(20, 10), at(20, 10)}) // called off
	look(22, 0, false, false)
	look(21, 9, false, false)
	set(Holiday{at(14, 0), at(16, 9)}) // another one
	look(15, 0, true, false)
	look(16, 10, false, true)
	look(22, 0, true, false)
	if next, own := m.Rules().NextHoliday(at(14, 0)); !own || !next.Until.Equal(at(16, 9)) {
		t.Errorf("next is %+v, own %v", next, own)
	}
}
