// Package freeport gives tests addresses to listen on.
package freeport

import (
	"fmt"
	"math/rand/v2"
	"net"
	"testing"
)

// The ports lie below those that Linux gives to outgoing connections and to who
// asks for any port (32768 and up), so that neither takes one between the test
// that was given it and the program that the test starts.
const first, last = 20000, 32000

// Address returns an address on this machine on which no program listens, and which
// no other test is given before this one ends: while the test runs it holds a
// socket of that name in Linux's abstract namespace, which ends with its process.
func Address(t testing.TB) string {
	t.Helper()
	for range 1000 {
		n := first + rand.IntN(last-first)
		name := &net.UnixAddr{Name: fmt.Sprintf("@leavend-test-port-%d", n), Net: "unix"}
		held, err := net.ListenUnix("unix", name)
		if err != nil {
			continue // another test has it
		}
		address := fmt.Sprintf("127.0.0.1:%d", n)
		l, err := net.Listen("tcp", address)
		if err != nil {
			held.Close()
			continue
		}
		l.Close()
		t.Cleanup(func() { held.Close() })
		return address
	}
	t.Fatal("no port is free")
	return ""
}
