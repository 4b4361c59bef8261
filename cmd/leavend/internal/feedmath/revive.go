package feedmath

import (
	"math"
	"time"
)

const days = 24 * time.Hour

// WakingFeeds is how many feeds of even parts a starter needs before the one that counts,
// by how long it has gone without: none within a week, one or two after that, two or
// three after a fortnight, and days of two feeds each after a month (common practice). It
// is the least of these; whether it has doubled decides.
func WakingFeeds(since time.Duration) int {
	switch {
	case since <= 7*days:
		return 0
	case since <= 14*days:
		return 1
	case since <= 28*days:
		return 2
	}
	return 4
}

// WakingG is how much starter to keep at a waking feed of even parts, so that the next
// feed finds what it keeps. A smaller one than leastWakingG dries out on the glass.
func WakingG(nextG float64) float64 {
	return max(leastWakingG, up((nextG+UsualStuckG)/3/(1-UsualLostShare)))
}

const leastWakingG = 20

// FeedEveryAt is how often a starter is fed at a temperature, where it is fed each
// `every` at 20 °C: half of that above 26 °C (common practice: a day at 20 °C, about 12
// hours above 26 °C). A temperature that is not known changes nothing.
func FeedEveryAt(every time.Duration, tempC float64) time.Duration {
	if math.IsNaN(tempC) {
		return every
	}
	share := 1 - 0.5*min(max((tempC-20)/6, 0), 1)
	return time.Duration(share * float64(every)).Round(time.Hour)
}
