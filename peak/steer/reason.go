package steer

import (
	"fmt"
	"time"

	"leavend/peak"
)

// Reason says why a course is as it is. The set is closed.
type Reason uint8

// The reasons.
const (
	NoWish     Reason = iota // nobody wished an hour
	NoFeed                   // the wish waits for a feed
	OnCourse                 // it comes at the hour
	Ahead                    // it would come early: the mat rests, or holds it cooler
	Behind                   // it would come late: the mat warms it
	TooEarly                 // the hour cannot be met: too early
	TooLate                  // the hour cannot be met: too late
	Keeping                  // the hour is here and so is the top, as good as: the mat rests
	BlindProbe               // no fresh temperature
	BlindCurve               // the curve tells nothing
	Arrived                  // the top, or the target, is here
	RunOut                   // the hour is long past
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
	Wish      time.Time // the hour wished

	Expect, Low, High time.Time     // when it comes on this course, with the 80 % interval
	Soonest, Latest   time.Time     // what the limits allow
	Until             time.Time     // the mat rests until then; zero when it does not
	Off               time.Duration // how far from the hour it would come as warm as it is now, below zero early
	Rests             bool          // it came early, and is cooled to keep
	RoomBound         bool          // the room, not the limit, keeps it from going cooler (or warmer)
}

// Done reports whether the wish is over: it came and its hour is here, or its
// hour is long past.
func (a Advice) Done() bool { return a.Reason == Arrived && a.Until.IsZero() || a.Reason == RunOut }

// Steers reports whether SetpointC is a course of its own, and not the usual
// setpoint.
func (a Advice) Steers() bool {
	return a.Reason >= OnCourse && a.Reason <= Keeping || !a.Until.IsZero()
}

// aLittle is how far off still is "a little".
const aLittle = 45 * time.Minute

// String says it in one line that a baker understands, in the time zone of
// the wish.
func (a Advice) String() string {
	clock := func(t time.Time) string { return t.In(a.Wish.Location()).Format("15:04") }
	deg := func() string { return fmt.Sprintf("%.1f °C", a.SetpointC) }
	much := ""
	if a.Off.Abs() < aLittle {
		much = "a little "
	}
	switch a.Reason {
	case NoWish:
		return fmt.Sprintf("No hour is wished; the mat holds its usual %s.", deg())
	case NoFeed:
		return fmt.Sprintf("The wish for %s waits for the next feed; the mat holds its usual %s.", clock(a.Wish), deg())
	case OnCourse:
		return fmt.Sprintf("On course for %s; the mat holds %s.", clock(a.Wish), deg())
	case Ahead:
		if a.Until.IsZero() {
			return fmt.Sprintf("It is %sahead; the mat holds only %s.", much, deg())
		}
		return fmt.Sprintf("It is %sahead; the mat rests until %s.", much, clock(a.Until))
	case Behind:
		return fmt.Sprintf("It is %sbehind; the mat warms it to %s.", much, deg())
	case TooEarly:
		why := ""
		if a.RoomBound {
			why = "; the mat does all it can"
		}
		return fmt.Sprintf("%s is too early: %s at the soonest%s.", clock(a.Wish), clock(a.Soonest), why)
	case TooLate:
		return a.tooLate(clock)
	case Keeping:
		return fmt.Sprintf("It is %s and it stands by its top; the mat rests, so that it keeps.", clock(a.Wish))
	case BlindProbe:
		return fmt.Sprintf("The probe is silent, so the hour cannot be steered; the mat goes by its usual %s.", deg())
	case BlindCurve:
		return fmt.Sprintf("The curve tells nothing now, so the hour cannot be steered; the mat holds its usual %s.", deg())
	case Arrived:
		switch {
		case a.Rests:
			return fmt.Sprintf("It is there since %s; the mat rests, so that it keeps until %s.", clock(a.Expect), clock(a.Until))
		case !a.Until.IsZero():
			return fmt.Sprintf("It is there since %s, just before its hour; the mat holds %s until %s.", clock(a.Expect), deg(), clock(a.Until))
		}
		return fmt.Sprintf("It came at %s; the mat holds its usual %s again.", clock(a.Expect), deg())
	case RunOut:
		return fmt.Sprintf("%s is long past; the mat holds its usual %s again.", clock(a.Wish), deg())
	}
	return a.Reason.String()
}

// Miss says of an hour that cannot be met what can be, for whoever is told of
// it once.
func (a Advice) Miss() string {
	clock := func(t time.Time) string { return t.In(a.Wish.Location()).Format("15:04") }
	switch {
	case a.Reason == TooEarly && a.Kind == peak.Bowl:
		return fmt.Sprintf("The dough will not have risen enough before %s; the mat does all it can.", clock(a.Soonest))
	case a.Reason == TooEarly:
		return fmt.Sprintf("The top will not come before %s; the mat does all it can.", clock(a.Soonest))
	case a.Kind == peak.Bowl:
		return a.tooLate(clock)
	}
	return fmt.Sprintf("The top will come by %s at the latest. Be there then, or put it into the fridge at its top.", clock(a.Latest))
}

// tooLate says what to do about what comes too early.
func (a Advice) tooLate(clock func(time.Time) string) string {
	if a.Kind == peak.Bowl {
		return fmt.Sprintf("It is early: there by %s at the latest. Let it cool, or be up then.", clock(a.Latest))
	}
	why := "even with the mat at its coolest"
	if a.RoomBound {
		why = "for the room is too warm to hold it back"
	}
	return fmt.Sprintf("%s is too late: %s at the latest, %s.", clock(a.Wish), clock(a.Latest), why)
}
