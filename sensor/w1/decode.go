package w1

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
)

// family is a kind of thermometer: the first byte of its number.
type family struct {
	chip       string
	sixteenths bool // its register counts sixteenths of a degree and has a configuration byte
}

// families holds the thermometers known here by the family code in their
// number (DS18B20, DS1822, DS28EA00 and DS18S20 data sheets, "64-Bit ROM").
var families = map[string]family{
	"28": {"ds18b20", true},
	"22": {"ds1822", true},
	"42": {"ds28ea00", true},
	"10": {"ds18s20", false},
}

// What a probe may say that is no temperature. ErrPowerOn and ErrNoPower are
// told apart because the cure is another.
var (
	ErrChecksum  = errors.New("the checksum is wrong: noise on the wire, or two probes at once")
	ErrPowerOn   = errors.New("85 °C is what a probe shows after its supply failed; check the supply wire")
	ErrNoPower   = errors.New("127.94 °C stands for a conversion without power; check the supply wire or the pull-up")
	ErrUnsettled = errors.New("its fixed bytes are not those of before: noise, or another probe; the next answer decides")
	ErrShorted   = errors.New("all bytes are zero or the configuration is impossible: the data wire is shorted or the probe is no genuine one")
	errEmpty     = errors.New("the kernel gave no text; the conversion failed or is not over")
)

// fixed is the bytes of a scratchpad that a probe never changes by itself:
// alarm limits, configuration, and the reserved ones but for one that counts.
type fixed [5]byte

// genuine reports whether the reserved bytes are those of the data sheet.
func (f fixed) genuine() bool { return f[3] == 0xFF && f[4] == 0x10 }

// copied reports whether they are known and not those of the data sheet.
func (f fixed) copied() bool { return f != fixed{} && !f.genuine() }

// scratchpad decodes the two lines of w1_slave:
//
//	50 05 4b 46 7f ff 0c 10 1c : crc=1c YES
//	50 05 4b 46 7f ff 0c 10 1c t=85000
//
// The first line is what the probe sent. The second repeats the last good
// bytes and is not to be trusted when the first ends with NO.
func (f family) scratchpad(text []byte) (tempC float64, _ fixed, err error) {
	line, rest, _ := bytes.Cut(text, []byte{'\n'})
	if len(bytes.TrimSpace(line)) == 0 {
		return 0, fixed{}, errEmpty
	}
	var pad [9]byte
	if !hexBytes(line, pad[:]) {
		return 0, fixed{}, fmt.Errorf("w1_slave reads %.40q, which is no scratchpad", line)
	}
	if crc8(pad[:8]) != pad[8] || !bytes.HasSuffix(bytes.TrimSpace(line), []byte("YES")) {
		return 0, fixed{}, ErrChecksum
	}
	if f.sixteenths {
		tempC, err = decode(pad)
	} else {
		tempC, err = kernelValue(rest, pad)
	}
	return tempC, fixed{pad[2], pad[3], pad[4], pad[5], pad[7]}, err
}

// kernelValue takes the temperature that the kernel worked out, for the one
// family whose register needs more than a scale.
func kernelValue(line []byte, pad [9]byte) (float64, error) {
	_, value, ok := bytes.Cut(line, []byte("t="))
	if !ok {
		return 0, errEmpty
	}
	if pad == [9]byte{} {
		return 0, ErrShorted
	}
	return milli(value)
}

// decode turns a scratchpad whose checksum is right into degrees. Bits 5 and 6
// of byte 4 hold the resolution, the rest of it is fixed (data sheet, figure
// "Configuration Register"); bits below the resolution are undefined.
func decode(pad [9]byte) (float64, error) {
	if pad[4]&0x9F != 0x1F {
		return 0, ErrShorted
	}
	unused := 3 - uint(pad[4]>>5)
	count := int16(uint16(pad[1])<<8|uint16(pad[0])) >> unused << unused
	return accept(float64(count) / 16)
}

// milli decodes the kernel's thousandths of a degree.
func milli(text []byte) (float64, error) {
	text = bytes.TrimSpace(text)
	if len(text) == 0 {
		return 0, errEmpty
	}
	n, err := strconv.ParseInt(string(text), 10, 32)
	if err != nil {
		return 0, fmt.Errorf("temperature reads %.40q, which is no whole number", text)
	}
	return accept(float64(n) / 1000)
}

// accept refuses the values that stand for a fault, and those a probe cannot
// measure. The kernel rounds 127.9375 to 127.937.
func accept(tempC float64) (float64, error) {
	switch {
	case tempC == 85:
		return 0, ErrPowerOn
	case tempC > 127.9 && tempC < 128:
		return 0, ErrNoPower
	case tempC < -55 || tempC > 125:
		return 0, fmt.Errorf("%.3f °C lies outside -55 to 125", tempC)
	}
	return tempC, nil
}

// hexBytes reads len(out) two-digit numbers from the start of a text.
func hexBytes(text []byte, out []byte) bool {
	for i := range out {
		var pair []byte
		pair, text, _ = bytes.Cut(bytes.TrimLeft(text, " "), []byte{' '})
		if len(pair) != 2 {
			return false
		}
		if _, err := hex.Decode(out[i:i+1], pair); err != nil {
			return false
		}
	}
	return true
}

// crc8 is the checksum of 1-Wire: x⁸+x⁵+x⁴+1, least bit first, starting at
// zero (Maxim application note 27).
func crc8(b []byte) byte {
	crc := byte(0)
	for _, v := range b {
		crc ^= v
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0x8C
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}
