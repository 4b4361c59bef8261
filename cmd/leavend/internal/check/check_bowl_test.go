package check

import (
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config"
)

// TestCheckSaysWhatABowlCounts: a measured bowl is called by its volume, and one
// without measures says that its number is of height.
func TestCheckSaysWhatABowlCounts(t *testing.T) {
	c := config.Default()
	bowl := config.Vessel{Name: "Dough", Kind: config.Bowl, FloorMM: 260, TargetRatio: 1.75}
	for want, change := range map[string]func(*config.Vessel){
		"1.75× its height": func(*config.Vessel) {},
		"1.75× its volume": func(v *config.Vessel) { v.BottomMM, v.TopMM, v.HeightMM = 160, 250, 150 },
	} {
		v := bowl
		change(&v)
		if got := english(explainVessel(c, v)[0].Says); !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}
