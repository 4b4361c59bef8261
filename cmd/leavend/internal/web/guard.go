package web

import (
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"

	"leavend/cmd/leavend/internal/web/problem"
)

// rights are what a request may do.
type rights struct {
	Read   bool `json:"may_read"`
	Feed   bool `json:"may_feed"` // say what is done in the kitchen
	Change bool `json:"may_change"`
	Signed bool `json:"signed_in"`
	Local  bool `json:"at_the_machine"` // comes from this machine itself
	owner  bool
}

// policy lets the page load only what it brought itself: no inline script but
// the one that the document's own policy names (policyFor), no inline style,
// nothing from elsewhere, in no frame.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; " +
	"font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'; " +
	"require-trusted-types-for 'script'; trusted-types leavend"

// guard is in front of every route: the headers all answers carry, the check
// that the request means this machine, and the one that a change comes from
// our own page.
func (s *Server) guard(next http.Handler) http.Handler {
	origins := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
		h.Set("X-Frame-Options", "DENY")
		if !s.ourHost(r.Host) {
			s.writeProblem(w, r, problem.New(http.StatusMisdirectedRequest, "host",
				"This machine is not called %q. Use its address, or add the name to the configuration.", hostOnly(r.Host)))
			return
		}
		if err := origins.Check(r); err != nil {
			s.log.Warn("web: refused a change from another site", slog.String("origin", clip(r.Header.Get("Origin"))), slog.String("path", clip(r.URL.Path)))
			s.writeProblem(w, r, problem.New(http.StatusForbidden, "origin", "Changes are taken from this page only."))
			return
		}
		next.ServeHTTP(w, r)
	})
}

func clip(s string) string {
	if len(s) > 120 {
		return s[:120]
	}
	return s
}

// ourHost accepts IP addresses, which no foreign name can be pointed at, and
// the names this machine is known by.
func (s *Server) ourHost(host string) bool {
	name := hostOnly(host)
	if _, err := netip.ParseAddr(name); err == nil {
		return true
	}
	return s.hosts[strings.TrimSuffix(name, ".")] || strings.HasSuffix(name, ".localhost")
}

func hostOnly(host string) string {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	return strings.ToLower(strings.Trim(host, "[]"))
}

// peer is the address at the other end of the connection.
func peer(r *http.Request) netip.Addr {
	ap, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return ap.Addr().Unmap()
}

// fromThisMachine is false for what a proxy on this machine passes on.
func fromThisMachine(r *http.Request) bool { return peer(r).IsLoopback() && !throughProxy(r) }

// may reports whether the rights are enough.
func (r rights) may(need who) bool {
	switch need {
	case reader:
		return r.Read
	case feeder:
		return r.Feed
	case changer:
		return r.Change
	case owner:
		return r.owner
	}
	return need == anyone
}

// rights decides what a request may do. Whoever is signed in may do all, a
// program what its token says. At the machine itself everyone may read, and may
// do all as long as the page is served to this machine only and no password
// is set.
func (s *sessions) rights(r *http.Request) rights {
	local := fromThisMachine(r)
	signed := s.keys.SignedIn(s.token(r))
	all := signed || local && s.local && !s.keys.HasPassword()
	given := tokenRights[s.keys.Right(bearer(r))]
	return rights{
		Read:   all || local || s.open || given >= reader,
		Feed:   all || given >= feeder,
		Change: all || given >= changer,
		Signed: signed,
		Local:  local,
		owner:  all,
	}
}

// bearer is the token that a program shows: as the scheme Bearer (RFC 6750), or
// as the password of the scheme Basic (RFC 7617), which scrapers know.
func bearer(r *http.Request) string {
	if scheme, token, ok := strings.Cut(r.Header.Get("Authorization"), " "); ok && strings.EqualFold(scheme, "Bearer") {
		return strings.TrimSpace(token)
	}
	_, password, _ := r.BasicAuth()
	return password
}
