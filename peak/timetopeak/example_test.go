package timetopeak_test

import (
	"fmt"
	"time"

	"leavend/peak/timetopeak"
)

func Example() {
	m := timetopeak.New()
	feed := timetopeak.Mixed(50, 250, 250)
	span, grounds := m.TopAfter(feed, timetopeak.Steady(22))
	fmt.Println(span, grounds)

	for range 6 {
		m.Learn(timetopeak.Past{Feed: feed, Course: timetopeak.Steady(22), Top: 9 * time.Hour})
	}
	span, grounds = m.TopAfter(feed, timetopeak.Steady(22))
	fmt.Println(span, grounds)
	fmt.Printf("%.0f in ten come before half past eight\n", 10*span.Before(8*time.Hour+30*time.Minute))
	// Output:
	// 8 h 42 (5 h 44 to 13 h 10) from published growth rates and the trade's usual times; this starter has shown no top yet
	// 9 h 00 (8 h 24 to 9 h 39) from 6 past feeds of this starter
	// 1 in ten come before half past eight
}
