package plan_test

import (
	"fmt"
	"time"

	"leavend/peak/plan"
	"leavend/peak/timetopeak"
)

// A baker who sleeps from half past ten to half past six wants a pan loaf on
// Saturday morning.
func ExampleFind() {
	model := timetopeak.New()
	plans, err := plan.Find(plan.Problem{
		Now: time.Date(2026, 11, 26, 18, 0, 0, 0, time.UTC), Ready: time.Date(2026, 11, 28, 7, 30, 0, 0, time.UTC),
		Recipe: plan.Recipes()[0], Hours: plan.Hours{AsleepFrom: 22*60 + 30, AsleepTo: 6*60 + 30},
		Ratios: plan.UsualRatios(), StarterAt: []plan.Warmth{{C: 24, Mat: true}}, DoughAt: []plan.Warmth{{C: 24, Mat: true}},
		Ripen: func(f plan.Feeding) plan.Ripe {
			span, _ := model.TopAfter(timetopeak.Mixed(1, f.Ratio.Flour, f.Ratio.Water), timetopeak.Steady(f.C))
			return span.Quantile
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	best := plans[0]
	for _, s := range best.Steps {
		fmt.Printf("%s %s (%s to %s)\n", s.At.Format("Mon 15:04"), s.Name, s.Earliest.Format("15:04"), s.Latest.Format("15:04"))
	}
	fmt.Printf("loaf %s, fed 1:%g:%g\n", best.Loaf.Format("Mon 15:04"), best.Ratio.Flour, best.Ratio.Water)
	// Output:
	// Fri 06:40 feed (06:30 to 10:20)
	// Fri 10:10 mix (09:40 to 12:00)
	// Fri 17:30 shape (16:40 to 19:00)
	// Sat 06:50 bake (06:50 to 06:50)
	// loaf Sat 07:30, fed 1:1:1
}
