package peak

// Stages returns every stage in the order of a feed.
func Stages() []Stage {
	return []Stage{Waiting, Lag, Rising, AtPeak, Falling, Collapsed, Lost}
}
