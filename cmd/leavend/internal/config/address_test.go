package config

import (
	"net"
	"os"
	"strings"
	"testing"
)

func TestLoopback(t *testing.T) {
	for address, want := range map[string]bool{
		"127.0.0.1:8420": true, "127.8.9.1:1": true, "localhost:80": true, "[::1]:8420": true,
		":8420": false, "0.0.0.0:8420": false, "192.0.2.7:8420": false, "[2001:db8::1]:8420": false,
		"127.0.0.1": false, "": false, "kitchen.example:80": false,
	} {
		if got := Loopback(address); got != want {
			t.Errorf("Loopback(%q) = %v", address, got)
		}
	}
}

// An address that means every network of the board is no address that a phone
// can open; the board's name is.
func TestReachable(t *testing.T) {
	host, err := os.Hostname()
	if err != nil {
		t.Skip(err)
	}
	for listen, want := range map[string]string{
		":8420": net.JoinHostPort(host, "8420"), "0.0.0.0:8420": net.JoinHostPort(host, "8420"), "[::]:80": net.JoinHostPort(host, "80"),
		"192.0.2.7:8420": "192.0.2.7:8420", "nonsense": "nonsense",
	} {
		if got := Reachable(listen); got != want {
			t.Errorf("Reachable(%q) = %q, want %q", listen, got, want)
		}
	}
}

func TestPageAddress(t *testing.T) {
	tests := []struct {
		name string
		web  Web
		want string
	}{
		{"no page", Web{Listen: "192.0.2.7:8420", TLS: TLSOff}, ""},
		{"this board only", Web{On: true, Listen: "127.0.0.1:8420", TLS: TLSOff}, ""},
		{"one address", Web{On: true, Listen: "192.0.2.7:8420", TLS: TLSOff}, "http://192.0.2.7:8420"},
		{"encrypted", Web{On: true, Listen: "192.0.2.7:8420", TLS: TLSSelfMade}, "https://192.0.2.7:8420"},
		{"by a name", Web{On: true, Listen: ":8420", TLS: TLSFiles, Hosts: []string{"kitchen.example", "other.example"}}, "https://kitchen.example:8420"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.web.PageAddress(); got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

// The ports are those that IANA has registered: 1883 for mqtt, 8883 for
// secure-mqtt.
func TestBrokerURL(t *testing.T) {
	tests := []struct{ name, given, want, fails string }{
		{"a port", "mqtt://192.0.2.7:1884", "mqtt://192.0.2.7:1884", ""},
		{"the usual port", "mqtt://192.0.2.7", "mqtt://192.0.2.7:1883", ""},
		{"the usual port with TLS", "mqtts://broker.example", "mqtts://broker.example:8883", ""},
		{"an address of IPv6", "mqtts://[2001:db8::1]", "mqtts://[2001:db8::1]:8883", ""},
		{"another name of the scheme", "tcp://broker.example", "", "want mqtt:// or mqtts://"},
		{"a slash at the end", "mqtt://broker.example/", "mqtt://broker.example:1883/", ""},
		{"web sockets", "ws://broker.example", "", "want mqtt:// or mqtts://"},
		{"no scheme", "broker.example:1883", "", "want mqtt:// or mqtts://"},
		{"no host", "mqtt://:1883", "", "names no host"},
		{"a topic", "mqtt://broker.example/dough", "", "topics are set by the prefix"},
		{"a query", "mqtt://broker.example?x=1", "", "topics are set by the prefix"},
		{"no address at all", "mqtt://bro ker", "", "not an address"},
		{"a password in a wrong address", "ws://baker:verysecret@broker.example", "", "want mqtt:// or mqtts://"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := BrokerURL(tt.given)
			if tt.fails == "" {
				if err != nil || got.String() != tt.want {
					t.Errorf("got %q, %v, want %q", got, err, tt.want)
				}
				return
			}
			if err == nil || !strings.Contains(err.Error(), tt.fails) {
				t.Errorf("got %v, want an error with %q", err, tt.fails)
			}
			if err != nil && strings.Contains(err.Error(), "verysecret") {
				t.Errorf("the error shows the password: %v", err)
			}
		})
	}
}
