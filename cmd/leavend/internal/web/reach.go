package web

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"os"
	"strings"

	"rsc.io/qr"

	"leavend/cmd/leavend/internal/web/problem"
)

// Reach lets the home network reach the page, or this board only.
type Reach interface {
	// SetReach writes the configuration. The daemon starts again with it when
	// begin is called; nil where nothing has changed.
	SetReach(ctx context.Context, ask ReachAsk) (begin func(), err error)
	// Blocked is the code of why the configuration cannot be written; "" where it can.
	Blocked() string
}

// ReachAsk is from where the page shall be reached.
type ReachAsk struct {
	Open     bool   `json:"open"`               // the home network, and not this board only
	TLS      string `json:"tls,omitempty"`      // "off" or "self-made"; "" leaves it as it is
	Password string `json:"password,omitempty"` // the first one, where none is set
}

// Reached is from where the page is reached, and how.
type Reached struct {
	Open        bool     `json:"open"`
	TLS         bool     `json:"tls"`
	OwnFiles    bool     `json:"own_files"` // the certificate is the owner's
	Addresses   []string `json:"addresses"` // the surest first
	QR          []string `json:"qr"`        // the first address: a row of 0 and 1 each
	PasswordSet bool     `json:"password_set"`
	Code        string   `json:"code,omitempty"`    // the set-up code, for who is at the board
	Blocked     string   `json:"blocked,omitempty"` // the code of why it cannot be changed here
	Trouble     string   `json:"trouble,omitempty"` // why the last change was taken back
}

// Reached says from where the page is reached now.
func (s *Server) Reached() Reached {
	return s.reached(!s.sessions.local, s.TLS())
}

// reached says how the page is reached, or will be.
func (s *Server) reached(open, tls bool) Reached {
	r := Reached{Open: open, TLS: tls, OwnFiles: s.opts.CertFile != "", PasswordSet: s.sessions.keys.HasPassword(),
		Code: s.SetupCode(), Addresses: []string{}, QR: []string{}, Blocked: "no-reach"}
	if s.opts.Reach != nil {
		r.Blocked = s.opts.Reach.Blocked()
	}
	if !open {
		return r
	}
	host, port, _ := net.SplitHostPort(s.opts.Listen) // New has looked at it
	scheme := "http"
	if tls {
		scheme = "https"
	}
	for _, name := range reachableHosts(host, s.opts.Hosts) {
		r.Addresses = append(r.Addresses, scheme+"://"+net.JoinHostPort(name, port))
	}
	r.QR = qrRows(r.Addresses[0])
	return r
}

const noReach = "That cannot be changed here: these data are invented, or the configuration is kept elsewhere."

// SetReach opens the page to the home network, or closes it. It sets the first
// password where there is none. The page is then reached as the answer says,
// once the daemon has started again, which begin has it do.
func (s *Server) SetReach(ctx context.Context, ask ReachAsk) (out Reached, begin func(), err error) {
	keys := s.sessions.keys
	switch {
	case s.opts.Reach == nil:
		return out, nil, problem.New(409, "no-reach", noReach)
	case ask.TLS != "" && ask.TLS != "off" && ask.TLS != "self-made":
		return out, nil, problem.New(422, "range", "tls: off or self-made.")
	case ask.Open && !keys.HasPassword():
		if err := keys.SetPassword(ask.Password, true); err != nil {
			return out, nil, err
		}
	}
	if begin, err = s.opts.Reach.SetReach(ctx, ask); err != nil {
		return out, nil, err
	}
	tls := s.TLS()
	if ask.TLS != "" && s.opts.CertFile == "" {
		tls = ask.TLS == "self-made"
	}
	return s.reached(ask.Open, tls), begin, nil
}

// reachableHosts are the names and numbers by which a phone finds this board,
// the surest first. host is the one that the page listens on.
func reachableHosts(host string, more []string) []string {
	out := []string{host}
	if ip, err := netip.ParseAddr(host); host == "" || isLoopbackName(host) || err == nil && ip.IsUnspecified() {
		out = boardAddresses()
		if name := localName(); name != "" {
			out = append(out, name)
		}
	}
	for _, name := range more {
		if net.ParseIP(name) == nil {
			out = append(out, strings.TrimSuffix(name, "."))
		}
	}
	return out
}

// boardAddresses are this board's own addresses. The one by which it would send
// is the one in the home network; a socket that sends nothing tells it. The
// address asked for is kept for documents (RFC 5737).
func boardAddresses() (out []string) {
	if c, err := net.Dial("udp4", "192.0.2.1:9"); err == nil {
		defer c.Close()
		if at, ok := c.LocalAddr().(*net.UDPAddr); ok && !at.IP.IsLoopback() {
			return []string{at.IP.String()}
		}
	}
	all, _ := net.InterfaceAddrs() // without them there is only the name
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && n.IP.IsGlobalUnicast() {
			out = append(out, n.IP.String())
		}
	}
	if len(out) == 0 {
		if name, err := os.Hostname(); err == nil {
			out = []string{name}
		}
	}
	return out
}

// avahiSocket is where Avahi listens, which answers for this board's name in
// the home network (RFC 6762).
var avahiSocket = "/run/avahi-daemon/socket"

// localName is this board's name in the home network; "" where nothing answers
// for it.
func localName() string {
	name, err := os.Hostname()
	if _, stat := os.Stat(avahiSocket); err != nil || stat != nil {
		return ""
	}
	name, _, _ = strings.Cut(name, ".")
	return strings.ToLower(name) + ".local"
}

// qrRows draws an address as a QR code: a row of 0 and 1 each, 1 is dark.
func qrRows(address string) []string {
	code, err := qr.Encode(address, qr.M)
	if err != nil {
		return []string{} // no address is as long as that
	}
	rows := make([]string, code.Size)
	for y := range rows {
		var b strings.Builder
		for x := range code.Size {
			if code.Black(x, y) {
				b.WriteByte('1')
			} else {
				b.WriteByte('0')
			}
		}
		rows[y] = b.String()
	}
	return rows
}

// String says in a line how the page is reached.
func (r Reached) String() string {
	if !r.Open {
		return "this board only"
	}
	return fmt.Sprintf("the home network, at %s", strings.Join(r.Addresses, " and "))
}
