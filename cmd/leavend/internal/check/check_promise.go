package check

import (
	"math"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
	"leavend/control"
)

// checkPromise says what holds of a mat however wrong its probe reads: lying
// open in a kitchen of 22 °C it brings no vessel above 35 °C.
func checkPromise(m config.Mat) Result {
	const topic, kitchenC, mostC = "mat strength", 22, 35
	p := control.Opts{MatW: m.Watts, VesselKg: m.LoadKg, MaxDuty: m.MaxDuty}.Promise()
	watts, load, limit, most := text.Number("watts", m.Watts), text.Number("load", m.LoadKg), text.Number("limit", p.LimitW), text.Temp("most", mostC)
	switch {
	case !p.Known:
		return note(topic, "check.strength.unknown")
	case p.Kept:
		return pass(topic, "check.strength.weak", watts, load, limit, most, text.Temp("kitchen", kitchenC))
	}
	return note(topic, "check.strength.strong", watts, load, limit, most, text.Share("share", p.Share))
}

// hoursHeld is about how long a mat is needed in a year, h: a night of twelve
// hours each week, and one more for dough (guess).
const hoursHeld = 2 * 12 * 52

// checkSwitch says how long the switch's contacts last.
func checkSwitch(m config.Mat) Result {
	if m.SwitchLife == 0 {
		return note("mat switch", "check.switch.solid")
	}
	hours := float64(m.SwitchLife) / float64(m.SwitchesPerHour)
	return note("mat switch", "check.switch.life", text.Number("hourly", float64(m.SwitchesPerHour)), text.Count("life", m.SwitchLife),
		text.Number("years", math.Round(10*hours/(24*365))/10), text.Number("nights", math.Round(hours/hoursHeld)))
}
