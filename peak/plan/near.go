package plan

import "time"

// Up is an earlier hour of getting up with which a plan is sound; false where none
// within the hour helps. It is asked where no plan is.
func (p Problem) Up() (minute int, ok bool) {
	if p.Hours.AsleepFrom == p.Hours.AsleepTo {
		return 0, false
	}
	if minute, ok = p.upEarlier(time.Hour); !ok {
		return 0, false
	}
	for earlier := Slot; earlier < time.Hour; earlier += Slot {
		if sooner, ok := p.upEarlier(earlier); ok {
			return sooner, true
		}
	}
	return minute, true
}

// upEarlier reports whether a plan is sound for who is up so much earlier, with the
// recipe as it stands.
func (p Problem) upEarlier(by time.Duration) (minute int, ok bool) {
	p.Fixed = true
	p.Hours.AsleepTo = (p.Hours.AsleepTo - int(by.Minutes()) + 24*60) % (24 * 60)
	found, err := Find(p)
	return p.Hours.AsleepTo, err == nil && found[0].Cost < lateCost
}
