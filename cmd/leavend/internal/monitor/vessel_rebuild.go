package monitor

import (
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/peak"
)

// Rebuild puts a curve that build makes in the place of the one that is shown.
// Build may take its time: what the sensors and the baker say meanwhile goes to
// the curve that is shown, and then to the new one, for a reading that is older
// than the last would be lost. What build has when it fails is taken too; with
// nothing at all nothing changes. Rebuild returns what the new curve's detector
// said of what came meanwhile.
func (v *Vessel) Rebuild(build func() (*Vessel, error)) ([]event.Event, error) {
	v.building.Lock()
	defer v.building.Unlock()
	v.noting(true)
	defer v.noting(false)
	fresh, err := build()
	if fresh == nil {
		return nil, err
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	var said []event.Event
	for _, tell := range v.meanwhile {
		said = append(said, tell(fresh)...)
	}
	v.detector, v.now, v.refused = fresh.detector, fresh.now, fresh.refused
	v.run = fresh.run
	v.fan, v.fanAt = peak.Fan{}, time.Time{}
	return said, err
}

// noting begins and ends the notes of what comes meanwhile.
func (v *Vessel) noting(on bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.notes, v.meanwhile = on, nil
}

// note keeps something for the curve that is built, if one is. The caller holds
// mu.
func (v *Vessel) note(tell func(*Vessel) []event.Event) {
	if v.notes {
		v.meanwhile = append(v.meanwhile, tell)
	}
}

// catchUp is Replay for a reading that may have come from the store already,
// whose times are whole milliseconds.
func (v *Vessel) catchUp(at time.Time, distanceMM, tempC float64) []event.Event {
	if at.Sub(v.now.At) <= time.Millisecond {
		return nil
	}
	return v.Replay(at, distanceMM, tempC)
}
