package mqtt

import (
	"net"
	"time"

	"golang.org/x/sys/unix"
)

// limitUnacked sets TCP_USER_TIMEOUT (RFC 5482, tcp(7)). A kernel that refuses
// leaves the bound to the keep-alive, which is slower, so there is nothing to
// report.
func limitUnacked(c *net.TCPConn, d time.Duration) {
	raw, err := c.SyscallConn()
	if err != nil {
		return
	}
	raw.Control(func(fd uintptr) {
		_ = unix.SetsockoptInt(int(fd), unix.IPPROTO_TCP, unix.TCP_USER_TIMEOUT, int(d.Milliseconds()))
	})
}
