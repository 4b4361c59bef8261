package check

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/store"
)

// TestCheckWander: the readings since the last feed show a ranger that wanders
// as a recorded VL53L0X does, and one that does not is passed over.
func TestCheckWander(t *testing.T) {
	for _, wanderMM := range []float64{0, 1.1} {
		c := configtest.Parse(t, "[[sensor]]\nname = \"eye\"\nchip = \"vl53l0x\"\n[[vessel]]\nname = \"Bramble\"\ndistance = \"eye\"\n")
		c.Store.File = filepath.Join(t.TempDir(), "leavend.db")
		s, _, err := store.Open(t.Context(), c.Store.File, store.Opts{})
		if err != nil {
			t.Fatal(err)
		}
		fed := time.Now().Add(-3 * time.Hour)
		if _, err := s.Journal.AddFeed(t.Context(), store.Feed{Vessel: "bramble", At: fed, Source: store.Marked}); err != nil {
			t.Fatal(err)
		}
		rng, w := rand.New(rand.NewPCG(7, 8)), 0.0
		keep := math.Exp(-10.0 / 450) // ten seconds of seven and a half minutes
		for at := fed; at.Before(fed.Add(3 * time.Hour)); at = at.Add(10 * time.Second) {
			w = keep*w + math.Sqrt(1-keep*keep)*wanderMM*rng.NormFloat64()
			s.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Distance, At: at, Value: 150 + w + 0.5*rng.NormFloat64()})
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		told := false
		for _, r := range checkHistory(t.Context(), c) {
			told = told || r.Topic == "sensor eye" && r.Level == Warn && strings.Contains(english(r.Says), "The ranger over Bramble is unsteady. Its distance wanders by") && !r.Do.IsZero()
		}
		if told != (wanderMM > 0) {
			t.Errorf("a wander of %.1f mm: told %v", wanderMM, told)
		}
	}
}
