package hardware

import (
	"encoding/binary"
	"fmt"
	"os"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"leavend/sensor/ultrasonic"
)

// echoLine is a GPIO line whose edges bear the time of the kernel's interrupt.
// periph's lines drop that time, so this one speaks to the character device
// itself (include/uapi/linux/gpio.h, version 2 of its interface).
type echoLine struct {
	path   string
	offset uint32
	name   string
	events *os.File // of the requested line; nil before
}

// lineRequest is struct gpio_v2_line_request, with its configuration in it.
type lineRequest struct {
	offsets  [64]uint32
	consumer [32]byte
	flags    uint64
	numAttrs uint32
	_        [5]uint32
	attrs    [10][3]uint64
	numLines uint32
	buffer   uint32
	_        [5]uint32
	fd       int32
}

// lineValues is struct gpio_v2_line_values.
type lineValues struct{ bits, mask uint64 }

// What the header says.
const (
	lineInput   = 1 << 2
	edgeRising  = 1 << 4
	edgeFalling = 1 << 5

	getLine   = 0xC250B407 // GPIO_V2_GET_LINE_IOCTL
	getValues = 0xC010B40E // GPIO_V2_LINE_GET_VALUES_IOCTL

	eventLen = 48 // struct gpio_v2_line_event
	rising   = 1  // GPIO_V2_LINE_EVENT_RISING_EDGE
)

// String returns the line's name, as the config gives it.
func (l *echoLine) String() string { return l.name }

// Watch requests the line. A line that is held already is given back first.
func (l *echoLine) Watch() error {
	if l.events != nil {
		_ = l.events.Close()
		l.events = nil
	}
	chip, err := os.OpenFile(l.path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer chip.Close()
	r := lineRequest{flags: lineInput | edgeRising | edgeFalling, numLines: 1}
	r.offsets[0] = l.offset
	copy(r.consumer[:], "leavend echo")
	if err := control(chip, getLine, unsafe.Pointer(&r)); err != nil {
		return fmt.Errorf("request the line: %w", err)
	}
	l.events = os.NewFile(uintptr(r.fd), l.name)
	return nil
}

// High returns the line's level.
func (l *echoLine) High() (bool, error) {
	v := lineValues{mask: 1}
	err := control(l.events, getValues, unsafe.Pointer(&v))
	return v.bits&1 == 1, err
}

// Edge waits for the next edge.
func (l *echoLine) Edge(timeout time.Duration) (ultrasonic.Edge, bool) {
	poll := []unix.PollFd{{Fd: int32(l.events.Fd()), Events: unix.POLLIN}}
	n, err := unix.Poll(poll, int(timeout.Milliseconds()))
	if err != nil || n == 0 {
		return ultrasonic.Edge{}, false
	}
	var event [eventLen]byte
	if n, err := unix.Read(int(poll[0].Fd), event[:]); err != nil || n != eventLen {
		return ultrasonic.Edge{}, false
	}
	return edgeOf(event), true
}

// edgeOf decodes an event: the time in nanoseconds, what it was, which line, and
// the number among all events and among those of the line. Numbers come in the
// order of the machine's own bytes.
func edgeOf(event [eventLen]byte) ultrasonic.Edge {
	order := binary.NativeEndian
	return ultrasonic.Edge{
		At:     time.Duration(order.Uint64(event[0:])),
		High:   order.Uint32(event[8:]) == rising,
		Number: order.Uint32(event[20:]),
	}
}

// control asks the kernel something about a file.
func control(f *os.File, what uintptr, arg unsafe.Pointer) error {
	if _, _, errno := unix.Syscall(unix.SYS_IOCTL, f.Fd(), what, uintptr(arg)); errno != 0 {
		return errno
	}
	return nil
}
