package said_test

import (
	"fmt"
	"time"

	"leavend/peak/said"
)

func ExampleSay() {
	top := time.Date(2026, 11, 28, 14, 20, 0, 0, time.UTC)
	line := said.Say("The top comes at about %v, on the mat at %v.", said.Clock(top), said.Degrees(24))
	fmt.Println(line.In(said.Form{}))
	fmt.Println(line.In(said.Form{Hours12: true, US: true}))
	// Output:
	// The top comes at about 14:20, on the mat at 24 °C.
	// The top comes at about 2:20 pm, on the mat at 75 °F.
}
