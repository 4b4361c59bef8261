package hardware

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/cmd/leavend/internal/config"
	"leavend/sensor"
	"leavend/sensor/ads1115"
	"leavend/sensor/bme280"
	"leavend/sensor/bus"
	"leavend/sensor/laser"
	"leavend/sensor/mux"
	"leavend/sensor/ntc"
	"leavend/sensor/sht"
	"leavend/sensor/vl53l0x"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl6180x"
	"leavend/sensor/xshut"
)

// BusName names an I²C bus among the buses. A multiplexer's channels belong
// to the bus it hangs on, so that one goroutine reads them all.
func BusName(number int) string { return fmt.Sprintf("i2c-%d", number) }

// socketOn is a place where chips hang: a socket of a numbered bus.
type socketOn struct {
	bus int
	Socket
}

// placeOf returns where a sensor hangs.
func placeOf(s config.Sensor) socketOn {
	if s.Mux == 0 {
		return socketOn{bus: s.Bus}
	}
	return socketOn{s.Bus, Socket{s.Mux, s.MuxChannel}}
}

// converterAt is one converter, which several thermistors share.
type converterAt struct {
	socketOn
	address int
}

// waker brings a ranger to its address. It is a member of an assigner.
type waker interface{ Wake(context.Context) error }

// memberOr is a ranger in its assigner, or why it could not be taken in.
type memberOr struct {
	member waker
	err    error
}

// openI2C opens what a chip on an I²C bus measures.
func (r *Registry) openI2C(s config.Sensor) ([]quantity, error) {
	bus, err := r.socket(s)
	if err != nil {
		return nil, err
	}
	switch s.Chip {
	case config.SHT3x, config.SHT4x:
		kind := sht.SHT3x
		if s.Chip == config.SHT4x {
			kind = sht.SHT4x
		}
		dev := sht.New(bus, uint16(s.Address), kind)
		return []quantity{{sensor.Temperature, dev.Temperature()}, {sensor.Humidity, dev.Humidity()}}, nil
	case config.BME280:
		dev := bme280.New(bus, uint16(s.Address), bme280.BME280)
		return []quantity{{sensor.Temperature, dev.Temperature()}, {sensor.Humidity, dev.Humidity()}}, nil
	case config.BMP280:
		return []quantity{{sensor.Temperature, bme280.New(bus, uint16(s.Address), bme280.BMP280).Temperature()}}, nil
	case config.ADS1115NTC:
		source, err := r.thermistor(bus, s)
		return []quantity{{sensor.Temperature, source}}, err
	}
	wake := r.awake[s.Name]
	if wake.err != nil {
		return []quantity{{sensor.Distance, unreadable{wake.err}}}, nil
	}
	source, err := openRanger(bus, s, wake.member)
	return []quantity{{sensor.Distance, source}}, err
}

// Ranger is a laser ranger, which can be calibrated by cards.
type Ranger interface {
	sensor.Source
	Card(ctx context.Context, trueMM float64, readings int) (laser.Card, error)
}

// Ranger opens a laser ranger by itself, to calibrate it by cards.
func (r *Registry) Ranger(s config.Sensor) (Ranger, error) {
	bus, err := r.socket(s)
	if err != nil {
		return nil, err
	}
	return openRanger(bus, s, r.awake[s.Name].member)
}

// openRanger makes a laser ranger. Its offset is the driver's to add, for what
// is too near to be true shows only in the corrected distance.
func openRanger(bus i2c.Bus, s config.Sensor, wake waker) (Ranger, error) {
	at, budget := uint16(s.Address), int(s.Budget/time.Millisecond)
	switch s.Chip {
	case config.VL53L1X:
		return openVL53L1X(bus, s, wake)
	case config.VL53L4CD:
		return vl53l1x.New(bus, at, vl53l1x.Opts{Chip: vl53l1x.VL53L4CD, BudgetMS: budget, OffsetMM: s.OffsetMM, XtalkKcps: s.CrosstalkKcps, Wake: wake})
	case config.VL53L0X:
		return vl53l0x.New(bus, at, vl53l0x.Opts{BudgetMS: budget, OffsetMM: s.OffsetMM, XtalkKcps: s.CrosstalkKcps, Wake: wake})
	}
	return vl6180x.New(bus, at, vl6180x.Opts{OffsetMM: s.OffsetMM, XtalkKcps: s.CrosstalkKcps, Wake: wake})
}

// openVL53L1X makes a VL53L1X's source.
func openVL53L1X(bus i2c.Bus, s config.Sensor, wake waker) (*vl53l1x.Dev, error) {
	o := vl53l1x.Opts{
		BudgetMS:  int(s.Budget / time.Millisecond),
		Cells:     min(s.ROI[0], s.ROI[1]),
		OffsetMM:  s.OffsetMM,
		XtalkKcps: s.CrosstalkKcps,
		Wake:      wake,
	}
	if s.Long {
		o.Mode = vl53l1x.Long
	}
	return vl53l1x.New(bus, uint16(s.Address), o)
}

// thermistor returns a thermistor as a source. Thermistors on one converter
// share its driver, which must know what the chip was last asked for.
func (r *Registry) thermistor(bus i2c.Bus, s config.Sensor) (sensor.Source, error) {
	at := converterAt{placeOf(s), s.Address}
	dev, ok := r.converters[at]
	if !ok {
		dev = ads1115.New(bus, uint16(s.Address))
		put(&r.converters, at, dev)
	}
	var curve ntc.Curve = ntc.Beta{OhmsAt25: s.NominalOhm, B: s.BetaK}
	if h := s.SteinhartHart; h != [3]float64{} {
		curve = ntc.SteinhartHart{A: h[0], B: h[1], C: h[2]}
	}
	return dev.Probe(ads1115.Thermistor{
		Input:       s.Channel,
		Divider:     ntc.Divider{Ohms: s.SeriesOhm, High: s.ThermistorHigh},
		Curve:       curve,
		SupplyV:     s.SupplyV,
		SupplyInput: s.SupplyChannel + 1, // the config's -1 is the driver's 0: none
	})
}

// joinMuxes makes one switch of all multiplexers on a bus: only one channel of
// them may be open at a time.
func (r *Registry) joinMuxes(sensors []config.Sensor) {
	addresses := map[int][]uint16{}
	for _, s := range sensors {
		if s.OnI2C() && s.Mux != 0 && !slices.Contains(addresses[s.Bus], uint16(s.Mux)) {
			addresses[s.Bus] = append(addresses[s.Bus], uint16(s.Mux))
		}
	}
	for number, at := range addresses {
		if m, err := mux.New(r.i2cBus(number), at, mux.Opts{}); err == nil {
			put(&r.muxes, number, m)
		} // else the config let an address through that socket will refuse
	}
}

// joinAssigners puts every ranger with a shut-down line to sleep and into the
// assigner of its bus.
func (r *Registry) joinAssigners(sensors []config.Sensor) {
	for _, s := range sensors {
		if !s.OnI2C() || !s.XShut.Set {
			continue
		}
		member, err := r.joinAssigner(s)
		put(&r.awake, s.Name, memberOr{member, err})
	}
}

// joinAssigner puts one ranger to sleep and into its assigner.
func (r *Registry) joinAssigner(s config.Sensor) (waker, error) {
	pin := r.pins[s.XShut]
	if pin.err != nil {
		return nil, fmt.Errorf("its shut-down line: %w; restart leavend when that is put right", pin.err)
	}
	bus, err := r.socket(s)
	if err != nil {
		return nil, err
	}
	assigner, ok := r.assigners[placeOf(s)]
	if !ok {
		assigner = xshut.New(bus)
		put(&r.assigners, placeOf(s), assigner)
	}
	move := map[config.Chip]xshut.Move{config.VL53L1X: vl53l1x.Readdress, config.VL53L4CD: vl53l1x.Readdress, config.VL53L0X: vl53l0x.Readdress, config.VL6180X: vl6180x.Readdress}
	// A pin that fails now may work later: the member stays, and tries.
	member, _ := assigner.Join(pin.pin, uint16(s.Address), move[s.Chip])
	if member == nil {
		return nil, fmt.Errorf("it cannot have the address 0x%02x on this bus", s.Address)
	}
	return member, nil
}

// socket returns the bus that a sensor sees: the board's, or a channel of a
// multiplexer.
func (r *Registry) socket(s config.Sensor) (i2c.Bus, error) {
	if s.Mux == 0 {
		return r.i2cBus(s.Bus), nil
	}
	m, ok := r.muxes[s.Bus]
	if !ok {
		return nil, fmt.Errorf("there is no multiplexer at 0x%02x of i2c bus %d", s.Mux, s.Bus)
	}
	return m.Port(uint16(s.Mux), s.MuxChannel)
}

// i2cBus returns a bus, which is opened when it is first used. One with spare
// lines is freed by them when it is stuck; without those lines it works on.
func (r *Registry) i2cBus(number int) i2c.Bus {
	spare, ok := r.spares[number]
	scl, sda := r.pins[spare.FreeSCL], r.pins[spare.FreeSDA]
	if !ok || scl.pin == nil || sda.pin == nil {
		return r.lazyBus(number)
	}
	if r.freed[number] == nil {
		put(&r.freed, number, bus.NewFreed(r.lazyBus(number), scl.pin, sda.pin, 0))
	}
	return r.freed[number]
}

// lazyBus returns a bus that is opened when it is first used, once for all.
func (r *Registry) lazyBus(number int) *lazyBus {
	if bus, ok := r.buses[number]; ok {
		return bus
	}
	open := r.Bus
	if open == nil {
		open = OpenI2C
	}
	bus := &lazyBus{number: number, open: open}
	put(&r.buses, number, bus)
	return bus
}

// put sets a key of a map that may not be made yet.
func put[K comparable, V any](m *map[K]V, key K, value V) {
	if *m == nil {
		*m = map[K]V{}
	}
	(*m)[key] = value
}

var _ i2c.BusCloser = (*lazyBus)(nil)

var errNoLine = errors.New("its GPIO line was not taken at the start")

// Socket is a place where chips hang: the bus itself, or a channel of a
// multiplexer.
type Socket struct{ Mux, Channel int }
