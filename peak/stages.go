package peak

// Stages returns every stage in the order of a feed.
func Stages() []Stage {
	return []Stage{Waiting, Lag, Rising, AtPeak, Falling, Collapsed, Lost}
}

// Pace returns how fast a starter lives at tempC relative to 25 °C, for those
// who compare curves in warmth-corrected time. NaN counts as 25 °C.
func Pace(tempC float64) float64 { return pace(tempC) }
