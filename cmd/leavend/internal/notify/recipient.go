package notify

import (
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// Recipient is a person, or a program, that gets messages, as the config has it.
type Recipient struct {
	config.Recipient
	Address func() (address, key string, err error) // fetched for each send, in place of URL and Key
	Wanted  func() bool                             // reports whether there is anybody behind the address now; nil is yes
}

// wants reports whether a recipient is to be told of a kind.
func (p Recipient) wants(k Kind) bool {
	return slices.Contains(p.Kinds, k) && (p.Wanted == nil || p.Wanted())
}

// quiet reports whether a recipient has quiet hours at now, by the clock on
// their wall.
func (p Recipient) quiet(now time.Time, zone *time.Location) bool {
	if p.QuietFrom == p.QuietTo {
		return false
	}
	now = now.In(zone)
	minute := config.ClockTime(now.Hour()*60 + now.Minute())
	if p.QuietFrom < p.QuietTo {
		return minute >= p.QuietFrom && minute < p.QuietTo
	}
	return minute >= p.QuietFrom || minute < p.QuietTo
}

// upkeep reports whether a recipient wants little said of it: starter that no bake
// waits for.
func (p Recipient) upkeep(bowl, bake bool) bool { return p.QuietUpkeep && !bowl && !bake }

// onlyTo chooses one recipient.
func onlyTo(p Recipient) func(Recipient) bool {
	return func(other Recipient) bool { return other.Name == p.Name }
}
