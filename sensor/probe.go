package sensor

// Place is where a temperature probe sits. The thermostat steers by the
// vessel, watches the mat, and only learns from the room.
type Place string

// The places a probe may have.
const (
	AtVessel Place = "vessel"
	AtMat    Place = "mat"
	AtRoom   Place = "room"
)

// Valid reports whether p is one of the known places.
func (p Place) Valid() bool { return p == AtVessel || p == AtMat || p == AtRoom }
