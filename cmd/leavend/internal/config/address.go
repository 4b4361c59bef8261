package config

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"net/url"
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
	return host == "localhost" || err == nil && ip.Unmap().IsLoopback()
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

// BrokerURL reads a broker's address: mqtt://host[:1883] or mqtts://host[:8883].
func BrokerURL(s string) (*url.URL, error) {
	u, err := url.Parse(s)
	if err != nil {
		return nil, errors.New("mqtt: broker: not an address; want mqtt://host:1883 or mqtts://host:8883")
	}
	port := map[string]string{"mqtt": "1883", "mqtts": "8883"}[u.Scheme]
	switch {
	case port == "":
		return nil, fmt.Errorf("mqtt: broker %s: want mqtt:// or mqtts://", u.Redacted())
	case u.Hostname() == "":
		return nil, fmt.Errorf("mqtt: broker %s: names no host", u.Redacted())
	case u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "":
		return nil, fmt.Errorf("mqtt: broker %s: has something after the port; topics are set by the prefix", u.Redacted())
	}
	if u.Port() == "" {
		u.Host = net.JoinHostPort(u.Hostname(), port)
	}
	return u, nil
}
