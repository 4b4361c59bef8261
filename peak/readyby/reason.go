package readyby

import (
	"fmt"
	"time"

	"leavend/peak"
)

// Reason says why a course is as it is. The set is closed.
type Reason uint8

// The reasons.
const (
	NoHour     Reason = iota // no hour was set
	NoFeed                   // the target time waits for a feed
	OnCourse                 // it comes at the hour
	Ahead                    // it would come early: the mat rests, or holds it cooler
	Behind                   // it would come late: the mat warms it
	TooEarly                 // the hour cannot be met: too early
	TooLate                  // the hour cannot be met: too late
	Keeping                  // the hour is here and so is the top, as good as: the mat rests
	BlindProbe               // no fresh temperature
	BlindCurve               // the curve tells nothing
	Arrived                  // the top, or the target, is here
	Expired                  // the hour is long past
)

var reasonNames = [...]string{"no-wish", "no-feed", "on-course", "ahead", "behind", "too-early", "too-late", "keeping", "blind-probe", "blind-curve", "arrived", "run-out"}

// String returns the reason as one word, for topics and tests.
func (r Reason) String() string {
	if int(r) < len(reasonNames) {
		return reasonNames[r]
	}
	return fmt.Sprintf("reason(%d)", uint8(r))
}

// Advice is what to ask of the thermostat now, and why. Times that do not
// belong to the reason are zero.
type Advice struct {
	Reason    Reason
	Kind      peak.Kind
	SetpointC float64
	ReadyBy   time.Time // the target time

	Expect, Low, High time.Time     // when it comes on this course, with the 80 % interval
	Soonest, Latest   time.Time     // what the limits allow
	Until             time.Time     // the mat rests until then; zero when it does not
	Off               time.Duration // how far from the hour it would come as warm as it is now, below zero early
	DegreeHours       float64       // above the room since the feed: what the mat's warmth has come to
	Rests             bool          // it came early, and is cooled to keep
	RoomBound         bool          // the room, not the limit, keeps it from going cooler (or warmer)
}

// Done reports whether the target time is over: it came and its hour is here, or its
// hour is long past.
func (a Advice) Done() bool { return a.Reason == Arrived && a.Until.IsZero() || a.Reason == Expired }

// Steers reports whether SetpointC is a course of its own, and not the usual
// setpoint.
func (a Advice) Steers() bool {
	return a.Reason >= OnCourse && a.Reason <= Keeping || !a.Until.IsZero()
}

// String is the advice for a log: the reason, the target time and what is held.
func (a Advice) String() string {
	if a.Reason == NoHour {
		return a.Reason.String()
	}
	return fmt.Sprintf("%v: %s at %.1f °C", a.Reason, a.ReadyBy.Format("15:04"), a.SetpointC)
}
