//go:build linux

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"periph.io/x/host/v3/sysfs"

	"leavend/sensor"
	kernel "leavend/sensor/sysfs"
	"leavend/sensor/w1"
)

const kernelVia = "Linux's own driver"

// kernels has the kernel's own drivers read the same chips, by themselves and
// through leavend's package for what the kernel drives.
func (b *bench) kernels(number int) {
	b.only("vl53l0x")
	// The kernel's driver of the VL53L0X leaves the chip's settings to others.
	if _, err := patiently(rangerOf(b.bus, "vl53l0x")); err != nil {
		b.row("vl53l0x", "leavend, to set it up", "a reading", err.Error(), false)
	}
	for _, c := range []struct {
		name string
		addr uint16
	}{{"vl53l0x", 0x29}, {"sht3x", 0x44}, {"sht4x", 0x46}, {"bme280", 0x76}, {"ads1115", 0x48}} {
		if err := bind(number, c.name, c.addr); err != nil {
			b.row(c.name, kernelVia, "bound", err.Error(), false)
		}
	}
	time.Sleep(time.Second)
	iio := func(chip, file string) (float64, error) {
		return value(fmt.Sprintf("/sys/bus/i2c/devices/%d-%s/iio:device*/%s", number, chip, file))
	}
	hwmon := func(chip, file string) (float64, error) {
		return value(fmt.Sprintf("/sys/bus/i2c/devices/%d-%s/hwmon/hwmon*/%s", number, chip, file))
	}
	for _, r := range []struct {
		chip         string
		read         func(chip, file string) (float64, error)
		at, file     string
		scale        float64
		want, within float64
		unit         string
	}{
		{"vl53l0x", iio, "0029", "in_distance_raw", 1, l0xMM, 0, "mm"},
		{"bme280", iio, "0076", "in_temp_input", 1e-3, bmeC, 0.01, "°C"},
		{"bme280", iio, "0076", "in_pressure_input", 1, bmeKPa, 0.005, "kPa"},
		{"sht3x", hwmon, "0044", "temp1_input", 1e-3, sht3C, 0.01, "°C"},
		{"sht3x", hwmon, "0044", "humidity1_input", 1e-3, sht3RH, 0.01, "%"},
		{"sht4x", hwmon, "0046", "temp1_input", 1e-3, sht4C, 0.01, "°C"},
		{"sht4x", hwmon, "0046", "humidity1_input", 1e-3, sht4RH, 0.01, "%"},
		{"ads1115", iio, "0048", "in_voltage0_raw", 2.048 / 32768, halfV, 0.001, "V"},
		{"ads1115", iio, "0048", "in_voltage1_raw", 2.048 / 32768, 0.5, 0.001, "V"},
		{"ads1115", iio, "0048", "in_voltage0-voltage1_raw", 2.048 / 32768, halfV - 0.5, 0.001, "V"},
	} {
		got, err := r.read(r.at, r.file)
		b.near(r.chip, kernelVia+", "+r.file, r.want, r.within, r.unit, got*r.scale, err)
	}
	b.humidityAgrees(iio)
	for _, r := range []struct {
		name string
		open func() (sensor.Source, error)
		want float64
		unit string
	}{
		{"vl53l0x", func() (sensor.Source, error) { return kernel.NewIIO("vl53l0x", "", sensor.Distance, kernel.Opts{}) }, l0xMM, "mm"},
		{"bme280", func() (sensor.Source, error) { return kernel.NewIIO("bme280", "", sensor.Temperature, kernel.Opts{}) }, bmeC, "°C"},
		{"sht3x", func() (sensor.Source, error) { return kernel.NewHwmon("sht3x", "temp1", kernel.Opts{}) }, sht3C, "°C"},
		{"sht4x", func() (sensor.Source, error) { return kernel.NewHwmon("sht4x", "humidity1", kernel.Opts{}) }, sht4RH, "%"},
	} {
		s, err := r.open()
		got := 0.0
		if err == nil {
			got, err = patiently(s)
		}
		b.near(r.name, "leavend by Linux's driver", r.want, 0.01, r.unit, got, err)
	}
}

// humidityAgrees holds the kernel's humidity of the BME280 to the formula that
// leavend has: its numbers of the factory are invented, so neither is given.
func (b *bench) humidityAgrees(iio func(chip, file string) (float64, error)) {
	got, err := iio("0076", "in_humidityrelative_input")
	b.near("bme280", kernelVia+", in_humidityrelative_input", bmeRH, 0.05, "%", got/1000, err)
}

// bmeRH is what leavend makes of the emulator's humidity, 34.75 %.
const bmeRH = 34.75

// value reads a number from the one file that matches.
func value(pattern string) (float64, error) {
	path, err := first(pattern)
	if err != nil {
		return 0, err
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return 0, err
	}
	return strconv.ParseFloat(strings.TrimSpace(string(b)), 64)
}

// oneWire has the kernel find thermometers behind a bridge, and reads them.
func (b *bench) oneWire() {
	ids := []string{"28-0316a279d5ff", "28-021791771b48"}
	want := []float64{23.4375, -10.125}
	number, err := adapter("tiny")
	if err == nil {
		err = bind(number, "ds2482", 0x18)
	}
	for _, id := range ids {
		if err == nil {
			_, err = first(filepath.Join(w1.Root, id, "temperature"))
		}
	}
	if err != nil {
		b.row("ds18b20", kernelVia+" behind a DS2482", "found", err.Error(), false)
		return
	}
	master, _ := first("/sys/bus/w1/devices/w1_bus_master*")
	for _, bulk := range []*w1.Bulk{nil, w1.NewBulk("", filepath.Base(master))} {
		how := "leavend by w1_therm"
		if bulk != nil {
			how += ", all at once"
		}
		for i, id := range ids {
			got, err := patiently(must(w1.New(id, w1.Opts{Bulk: bulk})))
			b.near("ds18b20", how, want[i], 0, "°C", got, err)
		}
	}
	for i, id := range ids {
		got, err := value(filepath.Join(w1.Root, id, "temperature"))
		b.near("ds18b20", kernelVia+", temperature", want[i], 0.001, "°C", got/1000, err)
	}
	b.lostConversion(ids[0], want[0])
}

// lostConversion shows what a conversion that the probe did not hear looks like:
// the kernel passes the old value on, so leavend watches for one that stands.
func (b *bench) lostConversion(id string, old float64) {
	b.probes[0].Warm(30)
	b.probes[0].Deaf(true)
	got, err := patiently(must(w1.New(id, w1.Opts{})))
	b.near("ds18b20", "leavend by w1_therm, conversion lost: the old value comes", old, 0, "°C", got, err)
	still := must(w1.New(id, w1.Opts{Still: time.Millisecond}))
	_, _ = reading(still)
	_, err = reading(still)
	b.row("ds18b20", "leavend by w1_therm, conversions lost for the time allowed", "refused", errText(err), err != nil && strings.Contains(err.Error(), "has not moved"))
	b.probes[0].Deaf(false)
	got, err = patiently(still)
	b.near("ds18b20", "leavend by w1_therm, it converts again", 30, 0, "°C", got, err)
}

// behindSwitch has the kernel's driver of the switch make a bus of its channel 2
// and reads the ranger there.
func (b *bench) behindSwitch(number int) {
	b.only("")
	if err := bind(number, "pca9548", 0x70); err != nil {
		b.row("tca9548a", kernelVia, "bound", err.Error(), false)
		return
	}
	channel, err := adapter("mux (chan_id 2)")
	if err != nil {
		b.row("tca9548a", kernelVia, "a bus for channel 2", err.Error(), false)
		return
	}
	var got float64
	bus, err := sysfs.NewI2C(channel)
	if err == nil {
		defer bus.Close()
		got, err = patiently(rangerOf(bus, "vl53l1x"))
	}
	b.near("vl53l1x behind a tca9548a", "leavend by Linux's bus of channel 2", 88, 0, "mm", got, err)
}
