package w1test

import "sync"

// Bridge is an emulated DS2482-100.
type Bridge struct {
	mu      sync.Mutex // guards what follows
	probes  []*Probe
	pointer byte // register that a read gives
	status  byte
	data    byte
	config  byte
}

// Addr is the address with both address pins at ground.
const Addr = 0x18

// Bits of the status register (data sheet, "Status Register").
const (
	presence = 1 << 1
	level    = 1 << 3 // the wire is high
	wasReset = 1 << 4
	single   = 1 << 5
	second   = 1 << 6
	taken    = 1 << 7
)

// Registers by their pointer codes.
const (
	atStatus = 0xF0
	atData   = 0xE1
	atConfig = 0xC3
)

// NewBridge returns a bridge with probes on its wire.
func NewBridge(probes ...*Probe) *Bridge {
	return &Bridge{probes: probes, pointer: atStatus, status: wasReset | level}
}

// Addr returns the bridge's address.
func (b *Bridge) Addr() uint16 { return Addr }

// Tx does a transfer: a command with its parameter, or a read of a register.
func (b *Bridge) Tx(w, r []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(w) > 0 {
		b.obey(w[0], append(w[1:len(w):len(w)], 0)[0])
	}
	for i := range r {
		r[i] = map[byte]byte{atStatus: b.status, atData: b.data, atConfig: b.config}[b.pointer]
	}
	return nil
}

// obey does what a command says.
func (b *Bridge) obey(command, arg byte) {
	if command == 0xE1 { // set read pointer
		b.pointer = arg
		return
	}
	b.pointer = atStatus
	switch command {
	case 0xF0: // device reset
		b.status, b.config = wasReset|level, 0
	case 0xD2: // write configuration; the upper half is the complement
		b.config, b.pointer = arg&0x0F, atConfig
		b.status &^= wasReset
	case 0xB4: // 1-Wire reset
		b.set(presence, len(b.probes) > 0)
		for _, p := range b.probes {
			p.reset()
		}
	case 0x87: // single bit
		b.set(single, b.slot(arg>>7) == 1)
	case 0xA5: // write byte
		b.octet(arg)
	case 0x96: // read byte
		b.data = b.octet(0xFF) // A read gives the status until the pointer is set.
	case 0x78: // triplet
		b.triplet(arg >> 7)
	}
}

func (b *Bridge) set(bits byte, on bool) {
	b.status &^= bits
	if on {
		b.status |= bits
	}
}

// slot is one bit on the wire, which anybody pulls low.
func (b *Bridge) slot(bit byte) byte {
	line := bit
	for _, p := range b.probes {
		line &= p.slot(bit)
	}
	return line
}

// octet is eight slots, the least bit first.
func (b *Bridge) octet(v byte) (line byte) {
	for i := range 8 {
		line |= b.slot(v>>i&1) << i
	}
	return line
}

// triplet reads a bit and its complement from all that take part in a search,
// and goes the way that is left, or the one asked for where both are.
func (b *Bridge) triplet(way byte) {
	bit, not := b.slot(1), b.slot(1)
	if bit != not {
		way = bit
	} else if bit == 1 {
		way = 1 // no device takes part
	}
	b.set(single, bit == 1)
	b.set(second, not == 1)
	b.set(taken, way == 1)
	b.slot(way)
}
