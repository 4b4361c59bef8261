package planning

import (
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/peak/readyby"
)

// aLittle is how far off still is "a little".
const aLittle = 45 * time.Minute

// Steered says in one line how a vessel stands that is steered to an hour.
func Steered(a readyby.Advice) text.Message {
	at, holds, until := text.Time("at", a.ReadyBy), text.Temp("holds", a.SetpointC), text.Time("until", a.Until)
	little := a.Off.Abs() < aLittle
	switch a.Reason {
	case readyby.NoFeed:
		return text.Say("steer.no_feed", at, holds)
	case readyby.OnCourse:
		return text.Say("steer.on_course", at, holds)
	case readyby.Ahead:
		return ahead(!a.Until.IsZero(), little, holds, until)
	case readyby.Behind:
		if little {
			return text.Say("steer.behind_little", holds)
		}
		return text.Say("steer.behind", holds)
	case readyby.TooEarly:
		if a.RoomBound {
			return text.Say("steer.too_early_room", at, text.Time("soonest", a.Soonest))
		}
		return text.Say("steer.too_early", at, text.Time("soonest", a.Soonest))
	case readyby.TooLate:
		return tooLate(a)
	case readyby.Keeping:
		return text.Say("steer.keeping", at)
	case readyby.BlindProbe:
		return text.Say("steer.blind_probe", holds)
	case readyby.BlindCurve:
		return text.Say("steer.blind_curve", holds)
	case readyby.Arrived:
		return arrived(a, holds, until)
	case readyby.Expired:
		return text.Say("steer.run_out", at, holds)
	}
	return text.Say("steer.no_hour", holds)
}

// ahead says what is done about what would come early.
func ahead(rests, little bool, args ...text.Arg) text.Message {
	switch {
	case rests && little:
		return text.Say("steer.ahead_rests_little", args...)
	case rests:
		return text.Say("steer.ahead_rests", args...)
	case little:
		return text.Say("steer.ahead_little", args...)
	}
	return text.Say("steer.ahead", args...)
}

// arrived says what is done with what is there.
func arrived(a readyby.Advice, holds, until text.Arg) text.Message {
	came := text.Time("came", a.Expect)
	switch {
	case a.Rests:
		return text.Say("steer.there_rests", came, until)
	case !a.Until.IsZero():
		return text.Say("steer.there_holds", came, holds, until)
	}
	return text.Say("steer.came", came, holds)
}

// Missed says of an hour that cannot be met what can be, for whoever is told of
// it once.
func Missed(a readyby.Advice) text.Message {
	switch {
	case a.Reason == readyby.TooEarly && a.Kind == peak.Bowl:
		return text.Say("steer.miss_dough_early", text.Time("soonest", a.Soonest))
	case a.Reason == readyby.TooEarly:
		return text.Say("steer.miss_early", text.Time("soonest", a.Soonest))
	case a.Kind == peak.Bowl:
		return tooLate(a)
	}
	return text.Say("steer.miss_late", text.Time("latest", a.Latest))
}

// tooLate says what to do about what comes too early.
func tooLate(a readyby.Advice) text.Message {
	at, latest := text.Time("at", a.ReadyBy), text.Time("latest", a.Latest)
	switch {
	case a.Kind == peak.Bowl:
		return text.Say("steer.too_late_dough", latest)
	case a.RoomBound:
		return text.Say("steer.too_late_room", at, latest)
	}
	return text.Say("steer.too_late_cool", at, latest)
}
