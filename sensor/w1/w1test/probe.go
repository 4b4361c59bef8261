// Package w1test is a DS2482-100, a bridge from I²C to 1-Wire, with DS18B20
// thermometers behind it, made of software. Everything on the wire goes by time
// slots of one bit, as on a real one, so that the kernel's own drivers can
// search, convert and read. It is made from the data sheets (Maxim 19-4930,
// 19-7487), not from chips.
package w1test

import (
	"encoding/hex"
	"fmt"
	"strings"
	"sync"
	"time"
)

// Probe is an emulated DS18B20 with a supply of its own.
type Probe struct {
	mu     sync.Mutex // guards what follows
	rom    [8]byte
	pad    [9]byte
	raw    int16 // what it measures, in sixteenths of a degree
	doneAt time.Time
	busy   bool // it converts until doneAt
	deaf   bool // it does not hear the command to convert

	state state
	in    byte // bits that came
	n     int  // bits of this state
	out   []byte
}

// state is what a probe waits for.
type state int

const (
	idle    state = iota // not selected
	command              // of the bus: match, skip, search
	match
	search
	function // of the probe
	write
	send
	convert
)

// NewProbe returns a probe with six bytes of a number, which measures °C.
func NewProbe(number [6]byte, tempC float64) *Probe {
	p := &Probe{raw: int16(tempC * 16)}
	p.rom[0] = 0x28
	copy(p.rom[1:], number[:])
	p.rom[7] = crc8(p.rom[:7])
	p.pad = [9]byte{0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10} // 85 °C, as after power-on
	p.pad[8] = crc8(p.pad[:8])
	return p
}

// Warm sets what the probe measures from its next conversion on.
func (p *Probe) Warm(tempC float64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.raw = int16(tempC * 16)
}

// Deaf makes the probe miss the command to convert, as one lost on the wire.
func (p *Probe) Deaf(on bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.deaf = on
}

// reset is the pulse that wakes all probes.
func (p *Probe) reset() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.enter(command)
}

func (p *Probe) enter(s state) { p.state, p.in, p.n = s, 0, 0 }

// slot is one bit on the wire: the master's, and what the probe makes of it.
func (p *Probe) slot(bit byte) byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.finish()
	switch p.state {
	case send:
		if p.n < 8*len(p.out) {
			bit = p.out[p.n/8] >> (p.n % 8) & 1
			p.n++
		}
		return bit
	case convert:
		if p.busy {
			return 0
		}
		return 1
	case search:
		return p.searchSlot(bit)
	case idle:
		return bit
	}
	p.in |= bit << (p.n % 8)
	p.n++
	if p.n%8 == 0 {
		p.take(p.in)
	}
	return bit
}

// searchSlot is one of three for each bit of the number: the bit, its
// complement, and the way that the master takes.
func (p *Probe) searchSlot(bit byte) byte {
	mine := p.rom[p.n/3/8] >> (p.n / 3 % 8) & 1
	step := p.n % 3
	p.n++
	switch step {
	case 0:
		return mine
	case 1:
		return 1 - mine
	}
	if bit != mine {
		p.enter(idle)
	} else if p.n == 3*64 {
		p.enter(function)
	}
	return bit
}

// take acts on a whole byte.
func (p *Probe) take(v byte) {
	p.in = 0
	switch p.state {
	case command:
		next, ok := map[byte]state{0x55: match, 0xCC: function, 0xF0: search}[v]
		if v == 0x33 {
			p.out, next, ok = p.rom[:], send, true
		}
		if !ok {
			next = idle // the search for alarms among others: none is set off
		}
		p.enter(next)
	case match:
		if v != p.rom[p.n/8-1] {
			p.enter(idle)
		} else if p.n == 64 {
			p.enter(function)
		}
	case write:
		if p.pad[1+p.n/8] = v; p.n == 24 {
			p.pad[8] = crc8(p.pad[:8])
			p.enter(idle)
		}
	case function:
		p.enter(p.obey(v))
	}
}

// obey does what a function command says.
func (p *Probe) obey(v byte) state {
	switch v {
	case 0x44:
		if !p.deaf {
			p.busy, p.doneAt = true, time.Now().Add(750*time.Millisecond)
		}
		return convert
	case 0xBE:
		p.out = append(p.out[:0:0], p.pad[:]...)
		return send
	case 0x4E:
		return write
	case 0xB4:
		p.out = []byte{0xFF} // a supply of its own
		return send
	}
	return idle
}

// finish lays a conversion down that is over.
func (p *Probe) finish() {
	if !p.busy || time.Now().Before(p.doneAt) {
		return
	}
	p.busy = false
	p.pad[0], p.pad[1] = byte(p.raw), byte(p.raw>>8)
	p.pad[6] = 0x10 - p.pad[0]&0x0F
	p.pad[8] = crc8(p.pad[:8])
}

// crc8 is the checksum of 1-Wire, worked out by long division: x⁸+x⁵+x⁴+1, least
// bit first.
func crc8(b []byte) (crc byte) {
	for i := range 8 * len(b) {
		bit := b[i/8] >> (i % 8) & 1
		if crc&1 != bit {
			crc = crc>>1 ^ 0x8C
		} else {
			crc >>= 1
		}
	}
	return crc
}

// Checksum returns, as two digits, the checksum of bytes that are given in hexadecimal.
func Checksum(pad string) string {
	b, err := hex.DecodeString(strings.ReplaceAll(pad, " ", ""))
	if err != nil {
		panic(err)
	}
	return fmt.Sprintf("%02x", crc8(b))
}
