package notify

import (
	"time"

	"leavend/cmd/leavend/internal/event"
)

// lane is one of a recipient's two queues: the usual one, or the urgent one.
type lane struct {
	to     int // in delivery.people
	urgent bool
	queue  *event.Consumer // what waits, in order
	sender cachedSender    // used by the send under way only

	// What follows is guarded by delivery.mu.
	busy     bool        // a send is under way
	sent     []time.Time // in the last hour
	batched  bool        // messages were held up and go out as one
	failures int         // of the message that goes next
	next     time.Time   // not before this
}

// urgentLane ends the names of lanes that no quiet hours and no limit hold up.
const urgentLane = " (urgent)"

// laneOf returns the lane that a kind of message takes to a recipient.
func laneOf(name string, k Kind) string {
	if urgent(k) {
		return name + urgentLane
	}
	return name
}

// addressWait is when an address that was refused is tried again.
const addressWait = 15 * time.Minute

// backOff is how long to wait after so many failures before.
func backOff(failures int) time.Duration {
	return min(15*time.Second<<min(failures, 10), 5*time.Minute)
}
