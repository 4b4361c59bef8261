package control

// PromiseWPerKg is how strong a mat may be for its load, W for each kilogram,
// if no vessel is to pass 35 °C whatever its probe says. Mat and vessel lose at
// least 1 W/K for each kilogram where nothing covers them (guess), so that the
// greatest duty of 0.9 lifts the vessel by at most 0.9 · 14 W / 1 W/K = 12.6 K
// above its room: 35 °C in a room of 22 °C.
const PromiseWPerKg = 14

// Promise is what can be promised of a mat whatever its probe says.
type Promise struct {
	Known  bool    // both the mat's power and its load are known
	Kept   bool    // no lie of the probe brings the vessel above 35 °C
	WPerKg float64 // the mat's power for each kilogram
	LimitW float64 // the strongest mat for which the promise holds with this load
}

// Promise returns what the settings allow to promise.
func (o Opts) Promise() Promise {
	if !(o.MatW > 0 && o.VesselKg > 0) {
		return Promise{}
	}
	p := Promise{Known: true, WPerKg: o.MatW / o.VesselKg, LimitW: PromiseWPerKg * o.VesselKg}
	p.Kept = p.WPerKg <= PromiseWPerKg
	return p
}
