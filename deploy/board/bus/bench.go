//go:build linux

package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/host/v3/sysfs"

	"leavend/sensor"
	"leavend/sensor/ads1115/ads1115test"
	"leavend/sensor/bme280/bme280test"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/mux/muxtest"
	"leavend/sensor/sht/shttest"
	"leavend/sensor/vl53l0x/vl53l0xtest"
	"leavend/sensor/vl53l1x/vl53l1xtest"
	"leavend/sensor/vl6180x/vl6180xtest"
	"leavend/sensor/w1/w1test"
)

// What the chips see. The air of the BME280 is that of its maker's worked
// example, the rest is invented.
const (
	l1xMM, l4cdMM, l0xMM, vl6MM = 141, 27, 173, 73
	sht3C, sht3RH               = 23.456, 61.2
	sht4C, sht4RH               = 18.9, 44.4
	bmeC, bmeKPa                = 25.08, 100.653
	halfV                       = 1.65 // of 3.3 V: the thermistor has its 10 kΩ of 25 °C
)

// bench is the emulated chips, the kernel's bus to them, and the table.
type bench struct {
	board   *bustest.Bus
	mux     *muxtest.Chip
	rangers map[string]ranger // all at 0x29: one has a supply at a time
	bme     *bme280test.Chip
	sht3    *shttest.Chip
	probes  [2]*w1test.Probe
	bus     i2c.BusCloser
	failed  int
}

// ranger is an emulated laser ranger.
type ranger interface {
	bustest.Chip
	Power(on bool)
	Reset()
}

// newBench wires the chips: all on the board's bus, and a ranger of its own
// behind channel 2 of a switch.
func newBench() *bench {
	b := &bench{
		mux: muxtest.New(0x70),
		rangers: map[string]ranger{
			"vl53l1x":  vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: l1xMM, SigmaMM: 3, SignalMcps: 20, Raw: 9}),
			"vl53l4cd": vl53l1xtest.NewL4CD(vl53l1xtest.Sample{DistanceMM: l4cdMM, SigmaMM: 2, SignalMcps: 20, Raw: 9}),
			"vl53l0x":  vl53l0xtest.New(vl53l0xtest.Sample{DistanceMM: l0xMM, SignalMcps: 20, Device: 11}),
			"vl6180x":  vl6180xtest.New(vl6180xtest.Sample{DistanceMM: vl6MM, SignalMcps: 20}),
		},
		bme:  bme280test.New(true),
		sht3: shttest.New(false, 0x44, sht3C, sht3RH),
		probes: [2]*w1test.Probe{
			w1test.NewProbe([6]byte{0xFF, 0xD5, 0x79, 0xA2, 0x16, 0x03}, 23.4375),
			w1test.NewProbe([6]byte{0x48, 0x1B, 0x77, 0x91, 0x17, 0x02}, -10.125),
		},
	}
	b.board = muxtest.Board("board", b.mux)
	for _, r := range b.rangers {
		r.Power(false)
		b.board.Attach(r)
	}
	for _, c := range []bustest.Chip{b.bme, b.sht3, shttest.New(true, 0x46, sht4C, sht4RH),
		ads1115test.New(0x48, [4]float64{halfV, 0.5, 2.5, 3.3}), w1test.NewBridge(b.probes[:]...)} {
		b.board.Attach(c)
	}
	b.mux.Behind(2).Attach(vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 88, SigmaMM: 2, SignalMcps: 20, Raw: 9}))
	return b
}

// open opens the kernel's bus, once its device file is there.
func (b *bench) open(number int) (err error) {
	for range 50 {
		if b.bus, err = sysfs.NewI2C(number); err == nil {
			return nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return err
}

// only gives one ranger its supply, and lets it boot.
func (b *bench) only(name string) {
	for n, r := range b.rangers {
		r.Power(n == name)
	}
	time.Sleep(5 * time.Millisecond)
}

// row prints one row of the table.
func (b *bench) row(chip, reader, want, got string, ok bool) {
	if !ok {
		b.failed++
	}
	fmt.Printf("ROW: | %s | %s | %s | %s | %s |\n", chip, reader, want, got, map[bool]string{true: "yes", false: "**no**"}[ok])
}

// near makes a row of a number.
func (b *bench) near(chip, reader string, want, within float64, unit string, got float64, err error) {
	said := fmt.Sprintf("%.4g %s", got, unit)
	if err != nil {
		said = err.Error()
	}
	b.row(chip, reader, fmt.Sprintf("%g ± %g %s", want, within, unit), said, err == nil && math.Abs(got-want) <= within)
}

// reading reads a source. A transfer takes some milliseconds here, for each is
// several on the USB.
func reading(s sensor.Source) (float64, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	r, err := s.Read(ctx)
	return r.Value, err
}

// patiently reads a source up to three times until it gives a value: on a busy
// machine the kernel gives up waiting for the adapter now and then. A value is
// never asked for again.
func patiently(s sensor.Source) (got float64, err error) {
	for range 3 {
		if got, err = reading(s); err == nil {
			break
		}
	}
	return got, err
}

// bind has a driver of the kernel take a chip, by its name for it.
func bind(bus int, name string, addr uint16) error {
	return os.WriteFile(fmt.Sprintf("/sys/bus/i2c/devices/i2c-%d/new_device", bus), fmt.Appendf(nil, "%s 0x%02x", name, addr), 0)
}

// first waits for a file that matches a pattern. The kernel searches its 1-Wire
// buses every ten seconds.
func first(pattern string) (string, error) {
	for range 1200 {
		if found, _ := filepath.Glob(pattern); len(found) > 0 {
			return found[0], nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return "", fmt.Errorf("the kernel shows no %s", pattern)
}
