package vl53l1x

// Settings returns the start values, for a test that stands outside.
func Settings() []byte { return settings[:] }

// TimeoutsL4CD is what the driver writes for a clock and a light time.
var TimeoutsL4CD = timeoutsL4CD
