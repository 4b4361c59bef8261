package store

import (
	"math"
	"time"
)

// Channel names what a reading measures, with its unit. A further probe has a
// name of its own behind a slash, as "temperature_c/crumb" has.
type Channel string

// The channels the daemon knows. Any other name is stored just as well.
const (
	Distance Channel = "distance_mm"      // from the sensor down to the surface
	Height   Channel = "height_mm"        // of the surface above the vessel's floor
	Surface  Channel = "surface_mm"       // Distance where it was believed, of a vessel whose floor is not known
	Warmth   Channel = "temperature_c"    // of the vessel, what the thermostat steers by
	MatTemp  Channel = "mat_c"            // of the mat
	RoomTemp Channel = "room_c"           // of the room
	Humidity Channel = "humidity_percent" // of the air, relative
	MatOn    Channel = "mat_on"           // 1 while the mat heats, else 0; its mean is the share of time on
)

// Reading is one number of one channel of one vessel.
type Reading struct {
	Vessel  string
	Channel Channel
	At      time.Time // when it was taken; its monotonic part is used where there is one
	Value   float64   // in the unit the channel names; kept to 1/10,000
}

// quantum is the resolution readings are kept with. It is far below that of
// any sensor here and holds the 0.0625 °C steps of common probes exactly.
const quantum = 1e-4

// maxValue bounds what a reading may be, so that sums over a day stay far
// inside 64 bits.
const maxValue = 1e7

// sample is a reading as it is stored: t in ms on its clock's time line, v in
// quanta.
type sample struct {
	channel int64
	t, v    int64
}

// quantise returns v in quanta, and false when v is no number or out of range.
func quantise(v float64) (int64, bool) {
	if math.IsNaN(v) || v > maxValue || v < -maxValue {
		return 0, false
	}
	return int64(math.Round(v / quantum)), true
}

// value turns quanta back into the unit. Dividing by an exact 10,000 gives
// the float64 nearest to the decimal, so 24.0625 comes back as 24.0625.
func value(v int64) float64 { return float64(v) / 1e4 }
