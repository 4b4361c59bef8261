//go:build !linux

package mqtt

import (
	"net"
	"time"
)

// limitUnacked does nothing where the kernel has no such limit; the keep-alive
// finds a dead connection more slowly.
func limitUnacked(*net.TCPConn, time.Duration) {}
