package sim

import (
	"context"
	"fmt"
	"math"
	"time"

	"leavend/sensor"
)

// Ranger returns the distance sensor over the named vessel.
func (k *Kitchen) Ranger(vessel string) (sensor.Source, error) {
	if err := k.do(vessel, func(*liveVessel) {}); err != nil {
		return nil, err
	}
	return &rangerSource{k, vessel}, nil
}

// Probe returns the temperature probe of the named vessel at the place.
func (k *Kitchen) Probe(vessel string, at sensor.Place) (sensor.Source, error) {
	if !at.Valid() {
		return nil, fmt.Errorf("kitchen: probe of %q: no place is called %q", vessel, at)
	}
	if err := k.do(vessel, func(*liveVessel) {}); err != nil {
		return nil, err
	}
	return &probeSource{k, vessel, at}, nil
}

type rangerSource struct {
	k      *Kitchen
	vessel string
}

// Read measures the distance, or says in the chip's word why it cannot.
func (s *rangerSource) Read(ctx context.Context) (sensor.Reading, error) {
	if err := ctx.Err(); err != nil {
		return sensor.Reading{}, err
	}
	r := sensor.Reading{At: s.k.now(), Quantity: sensor.Distance}
	err := s.k.do(s.vessel, func(v *liveVessel) {
		r.Value, r.Status = v.look(max(0, s.k.elapsed-v.looked))
		v.looked = s.k.elapsed
		r.Sigma = v.ranger.o.WhiteMM
	})
	if err == nil && math.IsNaN(r.Value) {
		err = fmt.Errorf("ranger over %s: no distance: status %s", s.vessel, r.Status)
	}
	if err != nil {
		return sensor.Reading{}, err
	}
	return r, nil
}

// String names the ranger, for logs.
func (s *rangerSource) String() string { return "simulated ranger over " + s.vessel }

type probeSource struct {
	k      *Kitchen
	vessel string
	at     sensor.Place
}

// Read measures the temperature, or says that the probe is gone. As with a
// real probe, 85 °C after a break in its supply comes as a reading that only
// the reader can doubt.
func (s *probeSource) Read(ctx context.Context) (sensor.Reading, error) {
	if err := ctx.Err(); err != nil {
		return sensor.Reading{}, err
	}
	r := sensor.Reading{At: s.k.now(), Quantity: sensor.Temperature}
	err := s.k.do(s.vessel, func(v *liveVessel) {
		r.Value = v.probes[s.at].measure(v.plant.ProbeC(s.at))
	})
	if err == nil && math.IsNaN(r.Value) {
		err = fmt.Errorf("probe at %s of %s: no answer: it is unplugged", s.at, s.vessel)
	}
	if err != nil {
		return sensor.Reading{}, err
	}
	return r, nil
}

// String names the probe, for logs.
func (s *probeSource) String() string {
	return fmt.Sprintf("simulated probe at %s of %s", s.at, s.vessel)
}

// Mat is the switch of one vessel's heat mat. It serves as an output of the
// thermostat: a lease that is not renewed runs out in the kitchen's own time.
type Mat struct {
	k      *Kitchen
	vessel string
}

// Mat returns the switch of the named vessel's mat. It is off at first.
func (k *Kitchen) Mat(vessel string) (*Mat, error) {
	if err := k.do(vessel, func(*liveVessel) {}); err != nil {
		return nil, err
	}
	return &Mat{k, vessel}, nil
}

// Set switches the mat on until further notice, or off.
func (m *Mat) Set(on bool) error {
	return m.k.do(m.vessel, func(v *liveVessel) { v.on, v.until = on, 0 })
}

// On switches the mat on for the lease, or renews it.
func (m *Mat) On(ctx context.Context, lease time.Duration) error {
	if lease <= 0 {
		return fmt.Errorf("mat of %s: a lease of %s is none", m.vessel, lease)
	}
	return m.k.do(m.vessel, func(v *liveVessel) { v.on, v.until = true, m.k.elapsed+lease })
}

// Off switches the mat off.
func (m *Mat) Off(ctx context.Context) error { return m.Set(false) }

// Drawing reports whether the mat draws current, which with a welded switch
// it does whatever it was told.
func (m *Mat) Drawing() bool {
	drawing := false
	_ = m.k.do(m.vessel, func(v *liveVessel) { drawing = v.plant.power(v.drawing(m.k.elapsed)) > 0 })
	return drawing
}

// String names the mat, for logs.
func (m *Mat) String() string { return "simulated mat of " + m.vessel }
