// Package heating holds what belongs to the mat beyond its control: what is
// kept of it between two runs, the note by which it can be switched off
// without the daemon, and the word of whoever wants it to stay off.
package heating

import (
	"encoding/json"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/control"
)

// Memory is what is kept of the mat between two runs.
type Memory struct {
	Saves    uint64           `json:"saves,omitempty"` // counts the changes; of two copies the one with more is newer
	Kept     control.Snapshot `json:"kept"`
	Setpoint float64          `json:"setpoint_c,omitempty"`
	Schedule []config.Slot    `json:"schedule,omitzero"` // as set on the page; nil: that of the config holds
	Mode     control.Mode     `json:"mode,omitempty"`
	Held     bool             `json:"held_off,omitempty"`            // switched off by hand on the board: only a person may allow it again
	Accepted time.Time        `json:"cautions_accepted_at,omitzero"` // when a person accepted the cautions; zero: not accepted
	Energy   *Energy          `json:"energy,omitempty"`
	Worn     Worn             `json:"worn,omitzero"`
}

// Energy is what the mat drew altogether in so much on-time.
type Energy struct {
	J  float64       `json:"j"`
	On time.Duration `json:"on_ns"`
}

// Worn is what was told of the mat's switch: for which life, and how often.
type Worn struct {
	Life  int `json:"life"`
	Times int `json:"times"`
}

// MayHeat reports whether a person has accepted the cautions and no one has
// switched the mat off by hand since.
func (m Memory) MayHeat() bool { return !m.Accepted.IsZero() && !m.Held }

// same reports whether two memories say the same.
func (m Memory) same(o Memory) bool {
	m.Saves, o.Saves = 0, 0
	a, errA := json.Marshal(m)
	b, errB := json.Marshal(o)
	return errA == nil && errB == nil && string(a) == string(b)
}
