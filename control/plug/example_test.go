package plug_test

import (
	"fmt"
	"time"

	"leavend/control/plug"
)

// Every on carries the plug's own switch-off timer.
func ExampleByName() {
	recipe, err := plug.ByName("tasmota", "mat-plug", 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, m := range append(recipe.On(time.Minute), recipe.Off()...) {
		fmt.Println(m.Topic, "|", m.Payload)
	}
	// Output:
	// cmnd/mat-plug/Backlog0 | PulseTime1 160; Power1 ON
	// cmnd/mat-plug/Backlog0 | Power1 OFF
}
