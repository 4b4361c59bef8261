package check

import (
	"fmt"

	"leavend/cmd/leavend/internal/config"
	"leavend/control"
)

// checkPromise says what holds of a mat however wrong its probe reads.
func checkPromise(m config.Mat) Result {
	r := Result{Topic: "mat's strength", Level: Note}
	p := control.Opts{MatW: m.Watts, VesselKg: m.LoadKg, MaxDuty: m.MaxDuty}.Promise()
	switch {
	case !p.Known:
		r.Says = "mat.watts and mat.load_kg are not both given: if its probe slips out and leavend does not notice, nothing bounds the heat but the longest time on."
		r.Do = "give the power on the mat's label and the weight of the lightest load"
	case p.Kept:
		r.Level = Pass
		r.Says = fmt.Sprintf("%g W under %g kg, and up to %g W are weak enough: lying open in a kitchen of 22 °C, it brings no vessel above 35 °C however wrong the probe reads.", m.Watts, m.LoadKg, p.LimitW)
	default:
		r.Says = fmt.Sprintf("%g W are too strong for %g kg: above %g W a probe that reads wrong could let a vessel pass 35 °C. So the mat gives no more than %.0f %% of its power in the long run, which may be too little in a cold kitchen.", m.Watts, m.LoadKg, p.LimitW, 100*p.Share)
		r.Do = "use a weaker mat, or one made for a load of this size"
	}
	return r
}

// hoursHeld is about how long a mat is needed in a year, h: a night of twelve
// hours each week, and one more for dough (guess).
const hoursHeld = 2 * 12 * 52

// checkSwitch says how long the switch's contacts last.
func checkSwitch(m config.Mat) Result {
	if m.SwitchLife == 0 {
		return Result{Topic: "mat's switch", Level: Note, Says: "mat.switch_life is 0: a switch without contacts."}
	}
	hours := float64(m.SwitchLife) / float64(m.SwitchesPerHour)
	return Result{Topic: "mat's switch", Level: Note, Says: fmt.Sprintf(
		"at the most, %d times an hour, its %d switchings last for %.1f years of heating without a break, or %.0f of two nights a week. Half as many an hour last twice as long, and the vessel swings more (control/RESULTS.md).",
		m.SwitchesPerHour, m.SwitchLife, hours/(24*365), hours/hoursHeld)}
}
