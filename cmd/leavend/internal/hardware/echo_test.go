package hardware

import (
	"encoding/binary"
	"os"
	"testing"
	"time"
	"unsafe"

	"leavend/sensor/ultrasonic"
)

// TestLineABI holds the structures to the sizes and requests of the kernel's
// header, include/uapi/linux/gpio.h: _IOWR(0xB4, 7, 592 bytes) and
// _IOWR(0xB4, 14, 16 bytes).
func TestLineABI(t *testing.T) {
	iowr := func(nr, size uintptr) uintptr { return 3<<30 | size<<16 | 0xB4<<8 | nr }
	if got := unsafe.Sizeof(lineRequest{}); got != 592 || iowr(7, got) != getLine {
		t.Errorf("a request has %d bytes, %#x", got, iowr(7, got))
	}
	if got := unsafe.Sizeof(lineValues{}); got != 16 || iowr(14, got) != getValues {
		t.Errorf("values have %d bytes, %#x", got, iowr(14, got))
	}
	var r lineRequest
	for name, offset := range map[string][2]uintptr{
		"consumer": {unsafe.Offsetof(r.consumer), 256}, "flags": {unsafe.Offsetof(r.flags), 288},
		"num_lines": {unsafe.Offsetof(r.numLines), 560}, "fd": {unsafe.Offsetof(r.fd), 588},
	} {
		if offset[0] != offset[1] {
			t.Errorf("%s lies at %d, want %d", name, offset[0], offset[1])
		}
	}
}

// TestEchoEdges reads two edges as the kernel lays them down: a millisecond
// apart by its clock, however late they are read.
func TestEchoEdges(t *testing.T) {
	in, out, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	defer out.Close()
	l := &echoLine{name: "gpiochip0:6", events: in}
	if _, ok := l.Edge(0); ok {
		t.Error("an edge before any came")
	}
	for i, id := range []uint32{1, 2} {
		var event [eventLen]byte
		binary.NativeEndian.PutUint64(event[0:], uint64(5e9+1e6*i))
		binary.NativeEndian.PutUint32(event[8:], id)
		binary.NativeEndian.PutUint32(event[12:], 6) // the line
		binary.NativeEndian.PutUint32(event[16:], uint32(40+i))
		binary.NativeEndian.PutUint32(event[20:], uint32(7+i))
		if _, err := out.Write(event[:]); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []ultrasonic.Edge{{High: true, At: 5 * time.Second, Number: 7}, {At: 5*time.Second + time.Millisecond, Number: 8}} {
		if got, ok := l.Edge(time.Second); !ok || got != want {
			t.Errorf("got %+v, %v, want %+v", got, ok, want)
		}
	}
}

// TestEchoNoChip says what is missing.
func TestEchoNoChip(t *testing.T) {
	l := &echoLine{path: t.TempDir() + "/gpiochip9", name: "gpiochip9:6"}
	if err := l.Watch(); !os.IsNotExist(err) {
		t.Errorf("got %v", err)
	}
}
