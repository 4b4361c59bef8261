package web

import (
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Face is how a vessel's place looks on the first screen: each has a colour
// and a shape of its own.
type Face string

// The faces.
const (
	FaceWaiting Face = "waiting" // nothing to watch yet, or just fed
	FaceRising  Face = "rising"
	FaceNearly  Face = "nearly" // less than half an hour to go
	FaceReady   Face = "ready"  // use it now
	FaceOver    Face = "over"   // dough that has risen more than it should
	FacePast    Face = "past"
	FaceCold    Face = "cold"
	FaceUnsure  Face = "unsure"
)

// Press is what the button does that a thumb hits first: what is to be done
// next. Where there is nothing to do it is empty.
type Press string

// The presses.
const (
	PressFeed Press = "feed" // it was fed, or dough mixed
	PressUse  Press = "use"  // it was used, or dough shaped
	PressOut  Press = "out"  // it came out of the fridge
)

// Says is what the first screen says of a vessel. The document and the script
// both only put it into words, so that neither decides anything.
type Says struct {
	Face  Face         `json:"face"`
	Stage text.Message `json:"stage"`
	Label text.Message `json:"label,omitzero"` // over the hour
	Hour  text.Message `json:"hour,omitzero"`  // what is written large
	Range text.Message `json:"range,omitzero"` // below it
	Wait  text.Message `json:"wait,omitzero"`  // how far off it is
	Do    text.Message `json:"do,omitzero"`    // the one thing to do
	Press Press        `json:"press,omitempty"`
	At    time.Time    `json:"at,omitzero"` // the hour that is expected, as it is written
}

// nearly is how long before its peak a vessel counts as nearly there.
const nearly = 30 * time.Minute

// says puts together what is said of a vessel at now.
func (v Vessel) says(now time.Time) Says {
	s := Says{Face: v.face(now), Press: v.press()}
	s.Stage = text.Say("stage." + string(v.Kind) + "." + v.stageKey(s.Face))
	switch {
	case !v.FridgeSince.IsZero():
		s.Label, s.Hour, s.Range = text.Say("now.in_fridge"), hour(v.FridgeSince), text.Say("now.in_fridge_hint")
	case v.Used != nil:
		v.sayUsed(&s)
	case s.Face == FaceReady:
		v.sayReady(&s, now)
	case v.Top != nil:
		v.sayPast(&s, now)
	case v.Forecast != nil:
		v.sayForecast(&s)
	default:
		v.sayNothing(&s)
	}
	return s
}

func hour(at time.Time) text.Message { return text.Say("now.hour", text.Time("at", at)) }

func do(key string) text.Message { return text.Say("now.do." + key) }

// press is what is to be done next.
func (v Vessel) press() Press {
	switch {
	case v.Stage == Asleep:
		return PressOut
	case v.Stage == Unfed, v.Stage == Falling, v.Used != nil:
		return PressFeed
	case v.Stage == OnTop, v.Stage == OnTarget, v.Stage == Over, v.Stage == Past:
		return PressUse
	}
	return ""
}

// text is what stands on the button.
func (p Press) text(kind Kind) text.Message {
	switch p {
	case PressOut:
		return text.Say("now.out_of_fridge")
	case PressUse:
		return text.Say("now.used." + string(kind))
	}
	return text.Say("now.fed." + string(kind))
}

// face sorts a vessel by what its place looks like.
func (v Vessel) face(now time.Time) Face {
	if v.Used != nil && (v.Stage == OnTop || v.Stage == Falling) {
		return FacePast // the best of it is gone
	}
	switch v.Stage {
	case Unfed, Settling:
		return FaceWaiting
	case Rising:
		if v.Forecast != nil && v.Forecast.TopAt.Sub(now) < nearly {
			return FaceNearly
		}
		return FaceRising
	case OnTop, OnTarget:
		return FaceReady
	case Over:
		return FaceOver
	case Falling, Past:
		return FacePast
	case Asleep:
		return FaceCold
	}
	return FaceUnsure
}

// stageKey is the stage's name in the catalogue.
func (v Vessel) stageKey(f Face) string {
	switch f {
	case FaceWaiting:
		return string(v.Stage)
	case FaceCold:
		return "asleep"
	case FacePast:
		if v.Used != nil {
			return "used"
		}
	case FaceOver:
		if v.Kind != Bowl {
			return "past"
		}
	}
	return string(f)
}

// sayReady is the moment itself.
func (v Vessel) sayReady(s *Says, now time.Time) {
	s.Hour, s.Do = text.Say("now.ready"), do("use")
	peaked := "now.peaked"
	if v.Kind == Bowl {
		peaked, s.Do = "now.risen", do("shape")
	}
	v.sayUntil(s, now)
	if v.Top != nil {
		s.Wait = text.Say(peaked, text.Time("at", v.Top.TopAt), text.Ratio("ratio", float64(v.Top.Ratio)))
	}
}

// sayUntil says how long it is at its best, where that lies ahead.
func (v Vessel) sayUntil(s *Says, now time.Time) {
	if v.BestUntil.After(now) {
		s.Range = text.Say("now.best_until", text.Time("until", about(v.BestUntil, time.Hour)))
	}
}

func (v Vessel) sayPast(s *Says, now time.Time) {
	s.Label, s.Hour = text.Say("now.peaked_at"), hour(v.Top.TopAt)
	if v.Kind == Bowl {
		s.Label = text.Say("now.risen_at")
	}
	s.Range = text.Say("now.at_ratio", text.Ratio("ratio", float64(v.Top.Ratio)))
	s.Wait = text.Say("now.ago", text.Time("at", v.Top.TopAt))
	switch {
	case s.Face == FaceOver && v.Kind == Bowl:
		s.Do = do("soon")
		v.sayUntil(s, now)
	case s.Face == FacePast && v.Kind == Bowl:
		s.Do = do("late")
	case s.Face == FacePast:
		s.Do = do("feed")
	}
}

func (v Vessel) sayForecast(s *Says) {
	f := v.Forecast
	grain := f.HighAt.Sub(f.LowAt)
	s.At = about(f.TopAt, grain)
	s.Label, s.Hour = text.Say("now.peak_at"), hour(s.At)
	if v.Kind == Bowl {
		s.Label = text.Say("now.target_at")
	}
	s.Range = text.Say("now.between", text.Time("low", about(f.LowAt, grain)), text.Time("high", about(f.HighAt, grain)))
	s.Wait = text.Say("now.in", text.Time("at", f.TopAt))
}

// sayUsed says what the baker did with it, and what is next.
func (v Vessel) sayUsed(s *Says) {
	s.Label, s.Hour = text.Say("now.used_at."+v.Used.How), hour(v.Used.At)
	s.Wait = text.Say("now.ago", text.Time("at", v.Used.At))
	if v.Kind == Bowl {
		s.Range = text.Say("now.why.unfed.bowl")
		return
	}
	s.Do = do("rest")
	if v.Top != nil {
		s.Range = text.Say("now.peaked", text.Time("at", v.Top.TopAt), text.Ratio("ratio", float64(v.Top.Ratio)))
	}
}

// sayNothing says why there is no hour; a note of the vessel's says it better.
func (v Vessel) sayNothing(s *Says) {
	s.Label = text.Say("now.too_early")
	if v.Stage == Unfed {
		s.Label = text.Say("now.no_feed_yet")
		if v.Kind == Bowl {
			s.Label = text.Say("now.no_dough_yet")
		}
	}
	switch {
	case v.Note != "" || !v.NoteSay.IsZero() || v.Kind != Jar && v.Kind != Bowl:
	case v.Stage == Unfed:
		s.Range = text.Say("now.why.unfed." + string(v.Kind))
	case v.Stage == Settling:
		s.Range = text.Say("now.why.settling")
	case v.Stage == Rising:
		s.Range = text.Say("now.why.rising")
	}
}

// about rounds an estimate as coarsely as its interval is wide, so that it
// neither seems finer than it is nor jumps about.
func about(t time.Time, width time.Duration) time.Time {
	switch {
	case width >= 50*time.Minute:
		return t.Round(10 * time.Minute)
	case width >= 25*time.Minute:
		return t.Round(5 * time.Minute)
	}
	return t.Round(time.Minute)
}
