package web

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"
	"sync"
)

// A visitor at the machine itself may look without a password. A proxy on this
// machine comes from there too, for everybody in the network, and many are set up
// without the headers that would say so. Three signs tell them apart: the headers,
// a name in the request that is not this machine's own, and the account of the
// process at the other end, which no person has.

// throughProxy reports whether a request from this machine shows a sign that it
// was made elsewhere.
func throughProxy(r *http.Request) bool {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via"} {
		if r.Header.Get(name) != "" {
			return true
		}
	}
	if !atHome(r.Host) {
		return true
	}
	if origin, err := url.Parse(r.Header.Get("Origin")); err != nil || origin.Host != "" && !atHome(origin.Host) {
		return true
	}
	ask, ok := r.Context().Value(serviceKey{}).(func() bool)
	return ok && ask()
}

// atHome reports whether a name or address never leaves this machine (RFC 6761,
// section 6.3).
func atHome(host string) bool {
	name := strings.TrimSuffix(hostOnly(host), ".")
	return isLoopbackName(name) || strings.HasSuffix(name, ".localhost")
}

// serviceKey keeps in a connection's context the question whether a service is at
// its other end.
type serviceKey struct{}

// withService lets requests of a connection ask, once, whether a service is at its
// other end.
func withService(ctx context.Context, c net.Conn) context.Context {
	return context.WithValue(ctx, serviceKey{}, sync.OnceValue(func() bool {
		return serviceAt(c.RemoteAddr(), c.LocalAddr())
	}))
}

// serviceAt reports whether the other end of a connection within this machine
// belongs to the account of a service. It is false where that cannot be told.
func serviceAt(theirs, ours net.Addr) bool {
	t, ok1 := theirs.(*net.TCPAddr)
	o, ok2 := ours.(*net.TCPAddr)
	if !ok1 || !ok2 || !t.IP.IsLoopback() {
		return false
	}
	for _, file := range []string{"/proc/net/tcp", "/proc/net/tcp6"} {
		f, err := os.Open(file)
		if err != nil {
			continue
		}
		uid, found := ownerOf(f, t.Port, o.Port)
		f.Close()
		if found {
			return isService(uid)
		}
	}
	return false
}

// isService reports whether an account is a service's, of another than ourselves:
// Linux gives people numbers from 1000 up (login.defs(5), UID_MIN).
func isService(uid int) bool { return uid > 0 && uid < 1000 && uid != os.Geteuid() }

// ownerOf finds in the kernel's table of connections (proc_pid_net(5)) who owns
// the one from a port to a port.
func ownerOf(table io.Reader, from, to int) (uid int, found bool) {
	lines := bufio.NewScanner(table)
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		if len(f) < 8 {
			continue
		}
		if portOf(f[1]) == from && portOf(f[2]) == to {
			_, err := fmt.Sscan(f[7], &uid)
			return uid, err == nil
		}
	}
	return 0, false
}

// portOf reads the port of an address such as 0100007F:1F90; -1 where there is
// none.
func portOf(address string) int {
	_, text, _ := strings.Cut(address, ":")
	port := -1
	if _, err := fmt.Sscanf(text, "%x", &port); err != nil {
		return -1
	}
	return port
}
