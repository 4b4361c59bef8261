package heating

import (
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/control"
)

// Why says why the mat is on or off.
func Why(s control.State) text.Message {
	switch {
	case s.Unreachable:
		return text.Say("mat.reason.unreachable", text.Temp("temp", s.ExpectC))
	case !s.FreeAt.IsZero():
		// Told a little late, for it is no promise to the minute.
		return text.Say("mat.reason.free_at", text.Time("at", s.FreeAt.Add(59*time.Second)))
	}
	return text.Say("mat.reason." + key(string(s.Reason)))
}

// FaultText says what happened, and what to do about it.
func FaultText(k control.FaultKind) (what, do text.Message) {
	prefix := "mat.fault." + key(string(k))
	return text.Say(prefix + ".what"), text.Say(prefix + ".do")
}

// StillHot says that a part of the mat is too warm for its cutoff to be
// acknowledged.
func StillHot(ofMat bool, tempC, limitC float64) text.Message {
	where := "mat.hot.vessel"
	if ofMat {
		where = "mat.hot.mat"
	}
	return text.Say(where, text.Temp("temp", tempC), text.Temp("limit", limitC))
}

// key is a stable word of the thermostat's as the catalogue has it.
func key(word string) string { return strings.ReplaceAll(word, "-", "_") }
