//go:build linux

package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/unix"

	"leavend/sensor/bus"
)

// wires is the bus behind the adapter.
type wires interface {
	Tx(addr uint16, w, r []byte) error
}

// attach plugs the adapter in: one end of a socket goes to the kernel's virtual
// host controller, which speaks USB/IP (Documentation/usb/usbip_protocol.rst),
// the other is served here.
func attach(b wires) error {
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_STREAM, 0)
	if err != nil {
		return err
	}
	go func() {
		err := (&device{bus: b, wire: os.NewFile(uintptr(pair[1]), "usbip")}).serve()
		fmt.Println("BUS: the adapter ended:", err)
	}()
	const port, fullSpeed, id = 0, 2, 1<<16 | 2
	line := fmt.Sprintf("%d %d %d %d", port, pair[0], id, fullSpeed)
	return os.WriteFile("/sys/devices/platform/vhci_hcd.0/attach", []byte(line), 0)
}

// device is an i2c-tiny-usb, a public design of an adapter that Linux drives
// (drivers/i2c/busses/i2c-tiny-usb.c).
type device struct {
	bus    wires
	wire   io.ReadWriter
	status byte
}

// The adapter's requests.
const (
	getFunctions = 1
	setDelay     = 2
	getStatus    = 3
	transfer     = 4 // and the three behind it: begin, end, both

	addressAck  = 1
	addressNack = 2
)

// What a USB/IP header says.
const (
	submit, unlink       = 1, 2
	submitted, unlinked  = 3, 4
	headerLen            = 48
	stalled, protocolErr = -int32(unix.EPIPE), -int32(unix.EPROTO)
)

// serve answers requests until the socket ends.
func (d *device) serve() error {
	for {
		head := make([]byte, headerLen)
		if _, err := io.ReadFull(d.wire, head); err != nil {
			return err
		}
		word := func(at int) uint32 { return binary.BigEndian.Uint32(head[at:]) }
		answer := make([]byte, headerLen)
		binary.BigEndian.PutUint32(answer[4:], word(4)) // its number
		if word(0) == unlink {
			binary.BigEndian.PutUint32(answer, unlinked)
			if _, err := d.wire.Write(answer); err != nil {
				return err
			}
			continue
		}
		in := word(12) == 1
		data := make([]byte, word(24))
		if !in {
			if _, err := io.ReadFull(d.wire, data); err != nil {
				return err
			}
		}
		n, status := d.control(head[40:48], data, in)
		binary.BigEndian.PutUint32(answer, submitted)
		binary.BigEndian.PutUint32(answer[20:], uint32(status))
		binary.BigEndian.PutUint32(answer[24:], uint32(n))
		if in {
			answer = append(answer, data[:n]...)
		}
		if _, err := d.wire.Write(answer); err != nil {
			return err
		}
	}
}

// control does a request of eight bytes: what, value, index and length. It
// returns how many bytes went, and how it went.
func (d *device) control(setup, data []byte, in bool) (n int, status int32) {
	value, index := binary.LittleEndian.Uint16(setup[2:]), binary.LittleEndian.Uint16(setup[4:])
	what := setup[1]
	if setup[0]&0x60 == 0 {
		return standard(what, value, data, in)
	}
	switch {
	case what == getFunctions:
		return copy(data, []byte{0x01, 0x00, 0xFF, 0x8E}), 0 // I2C_FUNC_I2C and the emulated SMBus
	case what == setDelay:
		return len(data), 0
	case what == getStatus:
		return copy(data, []byte{d.status}), 0
	case what >= transfer && what <= transfer+3:
		return d.transfer(index, data, in)
	}
	return 0, stalled
}

// transfer moves bytes on the bus. A bus that is stuck fails the request itself;
// a chip that does not acknowledge is told by the status.
func (d *device) transfer(addr uint16, data []byte, in bool) (int, int32) {
	w, r := data, []byte(nil)
	if in {
		w, r = nil, data
	}
	err := bus.Explain(d.bus.Tx(addr, w, r))
	d.status = addressAck
	switch {
	case errors.Is(err, bus.ErrStuck):
		return 0, protocolErr
	case err != nil:
		d.status = addressNack
	}
	return len(data), 0
}

// standard answers what every device is asked (USB 2.0, section 9.4).
func standard(what byte, value uint16, data []byte, in bool) (int, int32) {
	const getDescriptor, device, configuration = 6, 1, 2
	switch {
	case what == getDescriptor && value>>8 == device:
		// The numbers 0x0403, 0xC631 are those of the public design.
		return copy(data, []byte{18, 1, 0x10, 1, 0xFF, 0, 0, 8, 0x03, 0x04, 0x31, 0xC6, 0, 1, 0, 0, 0, 1}), 0
	case what == getDescriptor && value>>8 == configuration:
		return copy(data, []byte{9, 2, 18, 0, 1, 1, 0, 0x80, 50, 9, 4, 0, 0, 0, 0xFF, 0, 0, 0}), 0
	case what == getDescriptor:
		return 0, stalled
	case in:
		clear(data)
		return min(len(data), 2), 0
	}
	return len(data), 0
}

// adapter waits for an I²C adapter whose name holds a word, and returns its
// number.
func adapter(word string) (int, error) {
	for range 100 {
		found, _ := filepath.Glob("/sys/bus/i2c/devices/i2c-*")
		for _, dir := range found {
			var n int
			if _, err := fmt.Sscanf(filepath.Base(dir), "i2c-%d", &n); err == nil && strings.Contains(text(dir+"/name"), word) {
				return n, nil
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	return 0, fmt.Errorf("the kernel shows no I²C adapter %q", word)
}

// text reads a file of the kernel's; what it cannot read is its error.
func text(path string) string {
	b, err := os.ReadFile(path)
	if err != nil {
		return err.Error()
	}
	return strings.TrimSpace(string(b))
}
