//go:build linux

package main

import (
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor"
	"leavend/sensor/ads1115"
	"leavend/sensor/bme280"
	"leavend/sensor/ntc"
	"leavend/sensor/sht"
	"leavend/sensor/vl53l0x"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl6180x"
)

const oursVia = "leavend by /dev/i2c"

// must takes a source whose options are right.
func must[T any](s T, err error) T {
	if err != nil {
		panic(err)
	}
	return s
}

// rangerOf is leavend's driver of a ranger.
func rangerOf(bus i2c.Bus, name string) sensor.Source {
	switch name {
	case "vl53l4cd":
		return must(vl53l1x.New(bus, 0x29, vl53l1x.Opts{Chip: vl53l1x.VL53L4CD}))
	case "vl53l1x":
		return must(vl53l1x.New(bus, 0x29, vl53l1x.Opts{}))
	case "vl53l0x":
		return must(vl53l0x.New(bus, 0x29, vl53l0x.Opts{BudgetMS: 20}))
	}
	return must(vl6180x.New(bus, 0x29, vl6180x.Opts{}))
}

// ours reads every chip with leavend's drivers through the kernel's bus.
func (b *bench) ours() {
	for _, r := range []struct {
		name string
		want float64
	}{{"vl53l1x", l1xMM}, {"vl53l4cd", l4cdMM}, {"vl53l0x", l0xMM}, {"vl6180x", vl6MM}} {
		b.only(r.name)
		got, err := patiently(rangerOf(b.bus, r.name))
		b.near(r.name, oursVia, r.want, 0, "mm", got, err)
	}
	bme := bme280.New(b.bus, 0x76, bme280.BME280)
	three, four := sht.New(b.bus, 0x44, sht.SHT3x), sht.New(b.bus, 0x46, sht.SHT4x)
	for _, r := range []struct {
		chip   string
		source sensor.Source
		want   float64
		unit   string
	}{
		{"bme280", bme.Temperature(), bmeC, "°C"},
		{"sht3x", three.Temperature(), sht3C, "°C"}, {"sht3x", three.Humidity(), sht3RH, "%"},
		{"sht4x", four.Temperature(), sht4C, "°C"}, {"sht4x", four.Humidity(), sht4RH, "%"},
		{"ads1115 with thermistor", b.thermistor(), 25, "°C"},
	} {
		got, err := patiently(r.source)
		b.near(r.chip, oursVia, r.want, 0.01, r.unit, got, err)
	}
}

// thermistor is one of 10 kΩ on the converter, its supply on a second input.
func (b *bench) thermistor() sensor.Source {
	return must(ads1115.New(b.bus, 0x48).Probe(ads1115.Thermistor{
		Divider: ntc.Divider{Ohms: 10000}, Curve: ntc.Beta{OhmsAt25: 10000, B: 3950}, SupplyInput: 4,
	}))
}

// faults lets things go wrong on the wires: a reading fails with a word on what
// it is, and the second one afterwards is right.
func (b *bench) faults() {
	b.only("vl53l0x")
	eye := rangerOf(b.bus, "vl53l0x")
	chip := b.rangers["vl53l0x"]
	// after does something before the nth transfer from now on.
	after := func(n int, do func()) {
		b.board.Fault(func(uint16, []byte, []byte) error {
			if n--; n == 0 {
				do()
			}
			return nil
		})
	}
	for _, f := range []struct {
		name       string
		begin, end func()
		want       string // in the error; empty where the reading may be right as well
	}{
		{"unplugged", func() { chip.Power(false) }, func() { chip.Power(true) }, "no acknowledge"},
		{"unplugged in mid-reading", func() { after(12, func() { chip.Power(false) }) }, func() { chip.Power(true) }, "no acknowledge"},
		{"bus stuck", func() { b.board.Stick(1000) }, func() { b.board.Stick(0) }, "input/output error"},
		{"brown-out", chip.Reset, func() {}, ""},
		{"brown-out in mid-reading", func() { after(12, chip.Reset) }, func() {}, ""},
		{"one byte of noise", func() {
			done := false
			b.board.Corrupt(func(_ uint16, _, r []byte) {
				if len(r) == 14 && !done { // the result registers
					r[11] ^= 1
					done = true
				}
			})
		}, func() { b.board.Corrupt(nil) }, ""},
	} {
		if _, err := patiently(eye); err != nil {
			b.row("vl53l0x", oursVia+", before "+f.name, "a reading", err.Error(), false)
		}
		f.begin()
		got, err := reading(eye)
		b.board.Fault(nil)
		switch {
		case err != nil:
			b.row("vl53l0x", oursVia+", "+f.name, "an error that says so, or 173 mm", err.Error(), strings.Contains(strings.ToLower(err.Error()), f.want))
		case f.want != "" || got != l0xMM:
			b.near("vl53l0x", oursVia+", "+f.name+" (an error was due)", -1, 0, "mm", got, err)
		default:
			b.near("vl53l0x", oursVia+", "+f.name, l0xMM, 0, "mm", got, err)
		}
		f.end()
		time.Sleep(10 * time.Millisecond)
		_, _ = reading(eye)
		got, err = patiently(eye)
		b.near("vl53l0x", oursVia+", after "+f.name, l0xMM, 0, "mm", got, err)
	}
	_, err := reading(must(vl53l1x.New(b.bus, 0x31, vl53l1x.Opts{})))
	b.row("nothing at 0x31", oursVia, "no acknowledge", errText(err), err != nil && strings.Contains(err.Error(), "no acknowledge"))
}

func errText(err error) string {
	if err == nil {
		return "a reading"
	}
	return err.Error()
}
