package readyby

import (
	"fmt"
	"time"

	"leavend/peak"
	"leavend/peak/said"
)

// Reason says why a course is as it is. The set is closed.
type Reason uint8

// The reasons.
const (
	NoHour     Reason = iota // no hour was set
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
	ReadyBy   time.Time // the hour wished

	Expect, Low, High time.Time     // when it comes on this course, with the 80 % interval
	Soonest, Latest   time.Time     // what the limits allow
	Until             time.Time     // the mat rests until then; zero when it does not
	Off               time.Duration // how far from the hour it would come as warm as it is now, below zero early
	Rests             bool          // it came early, and is cooled to keep
	RoomBound         bool          // the room, not the limit, keeps it from going cooler (or warmer)
}

// Done reports whether the wish is over: it came and its hour is here, or its
// hour is long past.
func (a Advice) Done() bool { return a.Reason == Arrived && a.Until.IsZero() || a.Reason == Expired }

// Steers reports whether SetpointC is a course of its own, and not the usual
// setpoint.
func (a Advice) Steers() bool {
	return a.Reason >= OnCourse && a.Reason <= Keeping || !a.Until.IsZero()
}

// aLittle is how far off still is "a little".
const aLittle = 45 * time.Minute

// String is what Say says, in metric on a 24-hour clock, in the time zone of the
// wish.
func (a Advice) String() string { return a.Say().In(said.Form{Zone: a.ReadyBy.Location()}) }

// Say says it in one line that a baker understands.
func (a Advice) Say() said.Line {
	wish, holds := said.Clock(a.ReadyBy), said.Tenths(a.SetpointC)
	much := ""
	if a.Off.Abs() < aLittle {
		much = "a little "
	}
	switch a.Reason {
	case NoHour:
		return said.Say("No hour is wished; the mat holds its usual %v.", holds)
	case NoFeed:
		return said.Say("The wish for %v waits for the next feed; the mat holds its usual %v.", wish, holds)
	case OnCourse:
		return said.Say("On course for %v; the mat holds %v.", wish, holds)
	case Ahead:
		if a.Until.IsZero() {
			return said.Say("It is %vahead; the mat holds only %v.", much, holds)
		}
		return said.Say("It is %vahead; the mat rests until %v.", much, said.Clock(a.Until))
	case Behind:
		return said.Say("It is %vbehind; the mat warms it to %v.", much, holds)
	case TooEarly:
		why := ""
		if a.RoomBound {
			why = "; the mat does all it can"
		}
		return said.Say("%v is too early: %v at the soonest%v.", wish, said.Clock(a.Soonest), why)
	case TooLate:
		return a.tooLate()
	case Keeping:
		return said.Say("It is %v and it stands by its top; the mat rests, so that it keeps.", wish)
	case BlindProbe:
		return said.Say("The probe is silent, so the hour cannot be steered; the mat goes by its usual %v.", holds)
	case BlindCurve:
		return said.Say("The curve tells nothing now, so the hour cannot be steered; the mat holds its usual %v.", holds)
	case Arrived:
		return a.arrived()
	case Expired:
		return said.Say("%v is long past; the mat holds its usual %v again.", wish, holds)
	}
	return said.Say("%v", a.Reason)
}

// arrived says what is done with what is there.
func (a Advice) arrived() said.Line {
	came, holds, until := said.Clock(a.Expect), said.Tenths(a.SetpointC), said.Clock(a.Until)
	switch {
	case a.Rests:
		return said.Say("It is there since %v; the mat rests, so that it keeps until %v.", came, until)
	case !a.Until.IsZero():
		return said.Say("It is there since %v, just before its hour; the mat holds %v until %v.", came, holds, until)
	}
	return said.Say("It came at %v; the mat holds its usual %v again.", came, holds)
}

// Miss says of an hour that cannot be met what can be, for whoever is told of
// it once.
func (a Advice) Miss() said.Line {
	switch {
	case a.Reason == TooEarly && a.Kind == peak.Bowl:
		return said.Say("The dough will not have risen enough before %v; the mat does all it can.", said.Clock(a.Soonest))
	case a.Reason == TooEarly:
		return said.Say("The top will not come before %v; the mat does all it can.", said.Clock(a.Soonest))
	case a.Kind == peak.Bowl:
		return a.tooLate()
	}
	return said.Say("The top will come by %v at the latest. Be there then, or put it into the fridge at its top.", said.Clock(a.Latest))
}

// tooLate says what to do about what comes too early.
func (a Advice) tooLate() said.Line {
	if a.Kind == peak.Bowl {
		return said.Say("It is early: there by %v at the latest. Let it cool, or be up then.", said.Clock(a.Latest))
	}
	why := "even with the mat at its coolest"
	if a.RoomBound {
		why = "for the room is too warm to hold it back"
	}
	return said.Say("%v is too late: %v at the latest, %v.", said.Clock(a.ReadyBy), said.Clock(a.Latest), why)
}
