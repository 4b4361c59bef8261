package dough_test

import (
	"fmt"
	"time"

	"leavend/peak/dough"
	"leavend/peak/timetopeak"
)

// A baker's doughs are quicker than the recipe says.
func ExampleModel() {
	now := time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC)
	loaf := dough.Recipe{Name: "pan loaf", Time: 6*time.Hour + 30*time.Minute, AtC: 25, Rise: 2}
	m := dough.New(1.75)
	fmt.Println("at first     ", m.ReadyAfter(loaf, now, timetopeak.Steady(24), 0.5))
	for week := range 4 {
		m.Learn(dough.Past{Recipe: loaf, At: now.AddDate(0, 0, 7*(week-4)), Course: timetopeak.Steady(24), Rise: 1.75, After: 4*time.Hour + 30*time.Minute})
	}
	fmt.Println("after 4 weeks", m.ReadyAfter(loaf, now, timetopeak.Steady(24), 0.5))
	// Output:
	// at first      5 h 36 (3 h 48 to 8 h 15)
	// after 4 weeks 4 h 31 (4 h 04 to 5 h 01)
}
