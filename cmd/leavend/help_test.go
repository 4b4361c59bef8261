package main

import (
	"net"
	"testing"
	"time"

	"leavend/sensor/sim"
)

// What many tests of this folder begin with.

// invented is the invented kitchen of the demo, in the test's own time.
func invented(t testing.TB) *sim.Kitchen {
	t.Helper()
	k, err := sim.Demo(time.Now, 1)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// freePort returns an address on which nobody listens.
func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
