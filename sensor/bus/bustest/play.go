package bustest

import (
	"bufio"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync"

	"periph.io/x/conn/v3/physic"
)

// Played is a bus that says what a real one said, in the same order, as a
// bus.Trace noted it.
type Played struct {
	name string

	mu  sync.Mutex // guards what follows
	ops []op
	at  int
}

// op is one transfer.
type op struct {
	addr int
	w, r []byte
	err  error
}

// Play reads the transfers of one bus, such as "I2C1", from a trace. Other lines
// are left out.
func Play(trace io.Reader, bus string) (*Played, error) {
	p := &Played{name: bus}
	lines := bufio.NewScanner(trace)
	lines.Buffer(nil, 1<<20)
	for n := 1; lines.Scan(); n++ {
		m := transfer.FindStringSubmatch(lines.Text())
		if m == nil || m[1] != bus {
			continue
		}
		o, err := parse(m)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		p.ops = append(p.ops, o)
	}
	return p, lines.Err()
}

// transfer is a line of a trace: bus, address, written, read, error.
var transfer = regexp.MustCompile(`^[0-9.]+ (\S+) 0x([0-9a-f]{2}) w (-|[0-9a-f]+) r (-|[0-9a-f]+)(?: ! (.*))?$`)

// parse makes a transfer of the parts of its line.
func parse(m []string) (o op, err error) {
	if _, err := fmt.Sscanf(m[2], "%x", &o.addr); err != nil {
		return o, err
	}
	if o.w, err = hex.DecodeString(strings.Trim(m[3], "-")); err != nil {
		return o, err
	}
	if m[5] != "" {
		o.err = errors.New(m[5])
		return o, nil
	}
	o.r, err = hex.DecodeString(strings.Trim(m[4], "-"))
	return o, err
}

// Left returns how many transfers have not been asked for.
func (p *Played) Left() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.ops) - p.at
}

// Tx answers as the real bus did. A transfer that it did not see there is an
// error that says where.
func (p *Played) Tx(addr uint16, w, r []byte) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.at == len(p.ops) {
		return fmt.Errorf("played: transfer %d, 0x%02x w %x: the trace has ended", p.at, addr, w)
	}
	o := p.ops[p.at]
	if o.addr != int(addr) || string(o.w) != string(w) || o.err == nil && len(o.r) != len(r) {
		return fmt.Errorf("played: transfer %d: 0x%02x w %x r %d, but the trace has 0x%02x w %x r %d", p.at, addr, w, len(r), o.addr, o.w, len(o.r))
	}
	p.at++
	copy(r, o.r)
	return o.err
}

// String returns the bus's name.
func (p *Played) String() string { return p.name }

// SetSpeed accepts any speed.
func (p *Played) SetSpeed(physic.Frequency) error { return nil }

// Close does nothing.
func (p *Played) Close() error { return nil }
