package noise

// NewMean shows the mean that Steady makes to its tests.
var NewMean = newMean
