// Package w1 reads DS18B20 thermometers, and their kin DS1822, DS28EA00 and
// DS18S20, through the Linux kernel's 1-Wire subsystem.
//
// The kernel driver w1_therm shows each probe as a folder below
// /sys/bus/w1/devices, named by its 64-bit number without the checksum:
// 28-0316a279d5ff. Reading the file w1_slave there starts a conversion, waits
// for it (750 ms at 12 bits, DS18B20 data sheet, table "Thermometer
// Resolution Configuration") and gives the nine bytes of the scratchpad as
// text. A read therefore blocks in the kernel; Dev.Read lets go of it when its
// context ends, and Bulk lets all probes of a bus convert at once.
//
// Limits: -55 to +125 °C, ±0.5 °C from -10 to +85 °C, steps of 1/16 °C.
//
// A value is accepted only when the checksum, which is computed here again,
// and the configuration byte are right. Refused in any case are 85.000 °C,
// which a probe shows after a dip of its supply, and 127.94 °C, which stands
// for a conversion that lacked power: no sourdough is that warm. A data wire
// shorted to ground gives nine zero bytes, whose checksum is right; the
// configuration byte gives it away.
//
// A checksum of eight bits lets one garbled answer in 256 pass. But five of
// the nine bytes never change: the alarm limits, the configuration and two
// that are reserved. A probe must send them as it did before. A genuine one
// has 0xFF and 0x10 in the reserved bytes and is believed at once; a probe
// with other bytes there, as cheap copies have, is believed from its second
// answer on.
//
// A conversion that is lost on the wire leaves the old value in the scratchpad,
// and a kernel of version 6.1 passes it on as a new one. Opts.Still bounds for
// how long. Copies of a probe may wake up at 25 °C in place of 85: one that
// jumps to exactly 25 is not believed until its reading moves.
//
// Data sheet: Maxim DS18B20, 19-7487. Kernel: Documentation/w1/slaves/
// w1_therm.rst. Register and file formats are from memory of both.
package w1

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"leavend/sensor"
	"leavend/sensor/internal/blocking"
)

// Root is where the kernel shows its 1-Wire devices.
const Root = "/sys/bus/w1/devices"

// Opts holds what a probe may need beyond its number.
type Opts struct {
	Root string // the folder of devices; empty means Root
	Bulk *Bulk  // lets all probes of the bus convert together; nil converts one by one

	// Still is how long a reading may stay the same to its last digit, at StillC
	// or more; 0 is for ever.
	Still time.Duration
}

// Dev is one probe.
type Dev struct {
	id     string
	family family
	bulk   *Bulk
	call   *blocking.Call
	known  fixed // the bytes that never change, once they are known
	heard  fixed // those of the last answer that was not yet believed
	watch  watch
	pad    file // w1_slave
	bare   file // temperature
}

// file is what a probe needs of a file; tests put a faulty one here.
type file interface {
	Read() ([]byte, error)
}

// Find lists the numbers of the thermometers that the kernel sees, in order.
// An error says that there is no 1-Wire bus at all.
func Find(root string) ([]string, error) {
	if root == "" {
		root = Root
	}
	entries, err := os.ReadDir(root)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("find probes: the kernel has no 1-Wire bus: %s is missing; enable the w1-gpio overlay and load w1-therm", root)
	}
	if err != nil {
		return nil, fmt.Errorf("find probes: %w", err)
	}
	var ids []string
	for _, e := range entries {
		if _, err := parseID(e.Name()); err == nil {
			ids = append(ids, e.Name())
		}
	}
	sort.Strings(ids)
	return ids, nil
}

// New returns the probe with the given number, such as 28-0316a279d5ff. It
// does not touch the bus: a probe that is unplugged now may come back.
func New(id string, opts Opts) (*Dev, error) {
	f, err := parseID(id)
	if err != nil {
		return nil, err
	}
	if opts.Root == "" {
		opts.Root = Root
	}
	dir := filepath.Join(opts.Root, id)
	d := &Dev{
		id: id, family: f, bulk: opts.Bulk,
		pad:  blocking.NewFile(filepath.Join(dir, "w1_slave")),
		bare: blocking.NewFile(filepath.Join(dir, "temperature")),
	}
	d.watch.still = opts.Still
	d.call = blocking.New(d.convert)
	if d.bulk != nil {
		d.bulk.join(id)
	}
	return d, nil
}

// parseID checks a probe's number and returns its family, so that no other
// path can be smuggled in through a configuration file.
func parseID(id string) (family, error) {
	digits := strings.ToLower(strings.Replace(id, "-", "", 1))
	if len(id) != 15 || id[2] != '-' || len(digits) != 14 || strings.Trim(digits, "0123456789abcdef") != "" {
		return family{}, fmt.Errorf("probe %q: a number looks like 28-0316a279d5ff", id)
	}
	f, ok := families[digits[:2]]
	if !ok {
		return family{}, fmt.Errorf("probe %q: family %s is no thermometer this driver knows (28, 22, 42, 10)", id, digits[:2])
	}
	return f, nil
}

// String names the chip and where it sits.
func (d *Dev) String() string { return d.family.chip + " w1 " + d.id }

// Halt does nothing: a probe idles by itself.
func (d *Dev) Halt() error { return nil }

// Read converts and returns the temperature. When ctx ends first the kernel's
// read goes on in the background; the next call takes up its result, or throws
// it away when it has grown stale.
func (d *Dev) Read(ctx context.Context) (sensor.Reading, error) {
	r, err := d.call.Do(ctx)
	switch {
	case err == nil:
		return r, nil
	case ctx.Err() != nil:
		return sensor.Reading{}, fmt.Errorf("%s: read: the kernel has not answered: %w", d, err)
	}
	return sensor.Reading{}, fmt.Errorf("%s: read: %w", d, err)
}

// convert does one measurement.
func (d *Dev) convert() (sensor.Reading, error) {
	at := time.Now()
	if d.bulk != nil {
		if done, ok := d.bulk.convert(d.id); ok {
			at = done
		}
	}
	tempC, err := d.measure()
	if err == nil {
		err = d.watch.see(tempC, at, d.known.copied())
	}
	if err != nil {
		return sensor.Reading{}, err
	}
	return sensor.Reading{At: at, Quantity: sensor.Temperature, Value: tempC, Status: "checksum right"}, nil
}

// measure reads the scratchpad, or the bare temperature where a kernel offers
// only that.
func (d *Dev) measure() (tempC float64, err error) {
	text, err := d.pad.Read()
	if err == nil {
		return d.scratchpad(text)
	}
	if !blocking.Gone(err) {
		return 0, err
	}
	text, err = d.bare.Read()
	if err == nil {
		return milli(text)
	}
	if blocking.Gone(err) {
		return 0, errors.New("the kernel does not see it: unplugged, or a wire is broken")
	}
	return 0, err
}

// scratchpad decodes what the probe sent, and holds its fixed bytes against
// those it sent before.
func (d *Dev) scratchpad(text []byte) (float64, error) {
	tempC, f, err := d.family.scratchpad(text)
	if err != nil {
		return 0, err
	}
	if f == d.known {
		return tempC, nil
	}
	believed := f == d.heard || d.known == fixed{} && f.genuine()
	d.heard = f
	if !believed {
		return 0, ErrUnsettled
	}
	d.known = f
	return tempC, nil
}
