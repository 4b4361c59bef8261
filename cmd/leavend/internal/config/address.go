package config

import (
	"net"
	"net/netip"
	"os"
	"strings"
)

// Loopback reports whether an address to listen on is for this board only.
func Loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.IsLoopback()
}

// Reachable returns an address to listen on as one to go to.
func Reachable(address string) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil || host != "" && host != "0.0.0.0" && host != "::" {
		return address
	}
	name, err := os.Hostname()
	if err != nil {
		name = "this-board"
	}
	return net.JoinHostPort(name, port)
}

// PageAddress is where a phone reaches the page; "" where it does not.
func (w Web) PageAddress() string {
	if !w.On || Loopback(w.Listen) {
		return ""
	}
	scheme, host := "http://", Reachable(w.Listen)
	if w.TLS != TLSOff {
		scheme = "https://"
	}
	if len(w.Hosts) > 0 {
		host = w.Hosts[0] + w.Listen[strings.LastIndex(w.Listen, ":"):]
	}
	return scheme + host
}
