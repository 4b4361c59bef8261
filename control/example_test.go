package control_test

import (
	"fmt"
	"time"

	"leavend/control"
)

// A mat warms a cold vessel once its pause is served and its probe has given
// a few good readings, and goes off for good at a cutoff.
func Example() {
	out := &control.Dry{} // or a line, or a plug
	mat, err := control.New(out, control.Opts{SetpointC: 26})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer mat.Close()

	now := time.Now()
	_ = mat.SetMode(now, control.Hold)
	for range 30 {
		mat.Temperature(now, "crumb", control.AtVessel, 21)
		now = now.Add(10 * time.Second)
	}
	s := mat.State()
	fmt.Println(s.On, s.Reason)

	for c := 21.0; c < 36; c++ {
		mat.Temperature(now, "crumb", control.AtVessel, c)
		now = now.Add(10 * time.Second)
	}
	s = mat.State()
	fmt.Println(s.On, s.Reason, s.Faults[0].Kind)
	// Output:
	// true below-setpoint
	// false fault vessel-cutoff
}
