package check

import (
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/sensor/sht"
)

// Wires is an I²C bus. periph's i2c.Bus is one.
type Wires interface {
	Tx(addr uint16, w, r []byte) error
}

// Found is a device that answers on an I²C bus.
type Found struct {
	Address uint16
	Chip    string // what it is, as far as it says; "" if it does not
}

// The addresses that I²C leaves to devices.
const (
	firstAddress = 0x08
	lastAddress  = 0x77
)

// Scan asks every address of a bus whether somebody is there, and those that
// are who they are. It only reads, except for the register numbers and
// commands that reading needs, and sends those only where a chip that we know
// usually sits, and to the addresses in rangers, where the configuration puts
// one: a stranger could be a board of relays that takes them for a command.
func Scan(bus Wires, rangers []uint16, pause func(time.Duration)) []Found {
	var out []Found
	for a := uint16(firstAddress); a <= lastAddress; a++ {
		chip := name(bus, a, rangers, pause)
		if chip == "" && bus.Tx(a, nil, make([]byte, 1)) != nil {
			continue
		}
		out = append(out, Found{a, chip})
	}
	return out
}

// name asks the chip at an address who it is.
func name(bus Wires, a uint16, rangers []uint16, pause func(time.Duration)) string {
	switch {
	case a == 0x29 || slices.Contains(rangers, a):
		// Rangers wake up at 0x29.
		if bus.Tx(a, nil, make([]byte, 1)) == nil {
			return Ranger(bus, a)
		}
	case a >= 0x44 && a <= 0x46:
		return humidity(bus, a, pause)
	case a >= 0x48 && a <= 0x4b:
		return converter(bus, a)
	case a >= 0x76 && a <= 0x77:
		return air(bus, a)
	}
	return ""
}

// Ranger names a laser ranger. The order matters: the VL53L0X has registers
// of one byte, so that a number of two bytes would write to it; the others
// take a single byte for half a number and come to no harm.
func Ranger(bus Wires, a uint16) string {
	b := make([]byte, 2)
	// VL53L0X data sheet, table "Reference registers": 0xC0 holds 0xEE.
	if bus.Tx(a, []byte{0xc0}, b[:1]) == nil && b[0] == 0xee {
		return "vl53l0x"
	}
	// VL6180X data sheet, IDENTIFICATION__MODEL_ID: 0x000 holds 0xB4.
	if bus.Tx(a, []byte{0x00, 0x00}, b[:1]) == nil && b[0] == 0xb4 {
		return "vl6180x"
	}
	// VL53L1X data sheet, section "I2C interface - reference registers":
	// 0x010F holds 0xEA and 0x0110 holds 0xCC; of a VL53L4CD, 0xEB and 0xAA.
	if bus.Tx(a, []byte{0x01, 0x0f}, b) != nil {
		return ""
	}
	return map[[2]byte]string{{0xea, 0xcc}: "vl53l1x", {0xeb, 0xaa}: "vl53l4cd"}[[2]byte(b)]
}

// humidity names an SHT4x or SHT3x by an answer whose checksum is right. Both
// refuse a plain read when no measurement waits for it.
func humidity(bus Wires, a uint16, pause func(time.Duration)) string {
	b := make([]byte, 6)
	// SHT3x data sheet, "Read out of status register": 0xF32D.
	if bus.Tx(a, []byte{0xf3, 0x2d}, b[:3]) == nil && sht.CRC(b[:2]) == b[2] {
		return "sht3x"
	}
	// SHT4x data sheet, command table: 0x89 reads the serial number.
	if bus.Tx(a, []byte{0x89}, nil) != nil {
		return ""
	}
	pause(2 * time.Millisecond)
	if bus.Tx(a, nil, b) == nil && sht.CRC(b[:2]) == b[2] && sht.CRC(b[3:5]) == b[5] {
		return "sht4x"
	}
	return ""
}

// converter names an ADS1115. It has no number of its own; what gives it away
// are its threshold registers as they are at power-on (ADS1115 data sheet,
// Lo_thresh 0x8000 and Hi_thresh 0x7FFF).
func converter(bus Wires, a uint16) string {
	lo, hi := make([]byte, 2), make([]byte, 2)
	if bus.Tx(a, []byte{0x02}, lo) != nil || bus.Tx(a, []byte{0x03}, hi) != nil {
		return ""
	}
	if lo[0] == 0x80 && lo[1] == 0x00 && hi[0] == 0x7f && hi[1] == 0xff {
		return "ads1115-ntc"
	}
	return ""
}

// air names a BME280 or BMP280 by its number (data sheets, register "id" at
// 0xD0). A multiplexer may sit there as well: it takes the register number for
// channels to open and answers with it, and gets back what it held before.
func air(bus Wires, a uint16) string {
	before, id := make([]byte, 1), make([]byte, 1)
	if bus.Tx(a, nil, before) != nil || bus.Tx(a, []byte{0xd0}, id) != nil {
		return ""
	}
	switch id[0] {
	case 0x60:
		return "bme280"
	case 0x58:
		return "bmp280"
	case 0xd0:
		_ = bus.Tx(a, before, nil) // It has just answered; if it is gone now, so are its channels.
	}
	return ""
}

// Survey says what was found on a bus.
func Survey(topic string, found []Found) Result {
	if len(found) == 0 {
		return warn(topic, "check.i2c.silent")
	}
	chips := make([]text.Message, len(found))
	for i, f := range found {
		key := "check.i2c.chip"
		switch {
		case f.Chip == "" && f.Address >= 0x70:
			key = "check.i2c.maybe_mux"
		case f.Chip == "":
			key = "check.i2c.stranger"
		}
		chips[i] = text.Say(key, text.Name("chip", f.Chip), text.Name("address", hex(f.Address)))
	}
	return pass(topic, "check.i2c.found", text.List("chips", chips))
}

// Expect checks that a configured chip is where it should be. A ranger with a
// shut-down line sleeps until the daemon wakes it and gives it its address.
func Expect(sensor, chip string, address uint16, sleeps bool, found []Found) Result {
	topic, name, at := "sensor "+sensor, text.Name("chip", chip), text.Name("address", hex(address))
	var same []string
	for _, f := range found {
		switch {
		case f.Address == address && (f.Chip == chip || f.Chip == "" && !ranger(chip)):
			return pass(topic, "check.chip.there", name, at)
		case f.Address == address && f.Chip != "":
			return fail(topic, "check.chip.another", at, name, text.Name("found", f.Chip), text.Name("sensor", sensor))
		case f.Chip == chip:
			same = append(same, hex(f.Address))
		}
	}
	if sleeps {
		return note(topic, "check.chip.asleep", at)
	}
	r := fail(topic, "check.chip.missing", name, at)
	if len(same) > 0 {
		r.Do = text.Say("check.chip.moved", names("addresses", same), text.Name("sensor", sensor))
	}
	return r
}

func ranger(chip string) bool { return strings.HasPrefix(chip, "vl") }
