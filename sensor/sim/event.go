package sim

import (
	"fmt"
	"time"
)

// Kind names what can happen in a kitchen.
type Kind string

// Things that happen to the jar, to the sensors and to the daemon. The comment
// gives the meaning of Event.Amount.
const (
	Lifted      Kind = "lifted"      // taken away for a while and put back Amount mm nearer (+) or farther (−) from the sensor than it stood at first
	Hand        Kind = "hand"        // a hand in the beam; Amount unused
	Knocked     Kind = "knocked"     // slumps: loses the share Amount of its gas
	Stirred     Kind = "stirred"     // stirred down, not fed; Amount unused
	Sticking    Kind = "sticking"    // clings to the glass and slips when it is Amount mm behind
	Foaming     Kind = "foaming"     // foam wanders under the beam, Amount mm one standard deviation
	Condensing  Kind = "condensing"  // droplets on the cover: the path seems up to Amount mm shorter, noise and failures grow
	Glinting    Kind = "glinting"    // a gloss is seen in the share Amount of the readings
	Blind       Kind = "blind"       // the ranger is unplugged
	DaemonOff   Kind = "daemon off"  // nothing is recorded
	ClockStep   Kind = "clock step"  // the wall clock jumps by Amount seconds
	Chilled     Kind = "chilled"     // in the fridge at Amount °C, away from the sensor
	Overflowing Kind = "overflowing" // runs over the rim; found by the simulation, never scheduled
	ProbeGone   Kind = "probe gone"  // the temperature probe is unplugged
	ProbeStuck  Kind = "probe stuck" // the probe repeats its last value
	ProbeAt85   Kind = "probe at 85" // the probe shows its power-on value
	ProbeOut    Kind = "probe out"   // the probe has fallen out of the vessel and reads the room
	MatWelded   Kind = "mat welded"  // the mat's switch is stuck on
	MatDead     Kind = "mat dead"    // the mat is unplugged
	MatWeak     Kind = "mat weak"    // the mat gives the share Amount of its power
	DoorOpen    Kind = "door open"   // a door lets in air that is Amount °C colder; it warms again by itself
	HeatingOff  Kind = "heating off" // the room cools towards Amount °C below its usual course
)

// Event is something scheduled to happen. At counts from the start of the
// recording or of the live kitchen; For is zero for what takes no time.
type Event struct {
	Kind   Kind
	At     time.Duration
	For    time.Duration
	Amount float64
}

// String says what happens, when and how much, for logs and test names.
func (e Event) String() string {
	s := fmt.Sprintf("%s at %s", e.Kind, e.At.Round(time.Second))
	if e.For > 0 {
		s += fmt.Sprintf(" for %s", e.For.Round(time.Second))
	}
	if e.Amount != 0 {
		s += fmt.Sprintf(" (%.3g)", e.Amount)
	}
	return s
}
