package web

import (
	"log/slog"
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/web/access"
	"leavend/cmd/leavend/internal/web/problem"
)

// sessionReply tells the page what it may do and whether a password is set.
type sessionReply struct {
	rights
	PasswordSet bool `json:"password_set"`
	NeedsCode   bool `json:"needs_code"` // to choose the first password from here
	TLS         bool `json:"tls"`
}

// sessions sign visitors in, and tell who may do what.
type sessions struct {
	keys  *access.Keyring
	tries *access.Tries
	log   *slog.Logger
	local bool // the address is loopback only
	tls   bool
	open  bool // anyone who reaches the address may read
}

func (s *sessions) sessionReply(r *http.Request) sessionReply {
	have := s.rights(r)
	set := s.keys.HasPassword()
	return sessionReply{rights: have, PasswordSet: set, NeedsCode: !set && !have.Local, TLS: s.tls}
}

func (s *sessions) getSession(r *http.Request) (sessionReply, error) { return s.sessionReply(r), nil }

func (s *sessions) postSession(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Password string `json:"password"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if s.keys.Usable() != nil {
		return access.ErrFile
	}
	if err := s.tryOnce(r); err != nil {
		return err
	}
	if !s.keys.PasswordFits(in.Password) {
		return problem.New(http.StatusUnauthorized, "password", "That is not the password.")
	}
	s.tries.Forgive(peer(r))
	return s.signIn(w, r)
}

func (s *sessions) tryOnce(r *http.Request) error {
	wait := s.tries.Take(peer(r))
	if wait <= 0 {
		return nil
	}
	p := problem.New(http.StatusTooManyRequests, "wait", "Too many tries; wait %s.", (wait + time.Second - 1).Truncate(time.Second))
	p.RetryAfter = wait
	return p
}

// signIn opens a session and answers with the new rights.
func (s *sessions) signIn(w http.ResponseWriter, r *http.Request) error {
	token, err := s.keys.NewSession()
	if err != nil {
		return err
	}
	http.SetCookie(w, s.cookie(token, int(access.SessionLife/time.Second)))
	reply := s.sessionReply(r)
	reply.Read, reply.Feed, reply.Change, reply.Signed = true, true, true, true
	return writeJSON(w, http.StatusOK, reply)
}

func (s *sessions) deleteSession(w http.ResponseWriter, r *http.Request) error {
	if token := s.token(r); token != "" {
		if err := s.keys.EndSession(token); err != nil {
			return err
		}
	}
	http.SetCookie(w, s.cookie("", -1))
	noContent(w)
	return nil
}

// putPassword sets the first password, or changes it. The first one needs
// the set-up code from the daemon's log unless it comes from the machine
// itself; a change needs the old one.
func (s *sessions) putPassword(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		New  string `json:"new"`
		Old  string `json:"old"`
		Code string `json:"code"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if s.keys.Usable() != nil {
		return access.ErrFile
	}
	first := !s.keys.HasPassword()
	if !first || !fromThisMachine(r) {
		if err := s.tryOnce(r); err != nil {
			return err
		}
	}
	switch {
	case first && !fromThisMachine(r) && !s.keys.CodeFits(in.Code):
		return problem.New(http.StatusUnauthorized, "code", "That is not the set-up code; on the board, 'sudo leavend web show' says it.")
	case !first && !s.keys.PasswordFits(in.Old):
		return problem.New(http.StatusUnauthorized, "password", "That is not the present password.")
	}
	if err := s.keys.SetPassword(in.New, first); err != nil {
		return err
	}
	s.tries.Forgive(peer(r))
	s.log.Info("web: the page's password was set")
	return s.signIn(w, r)
}

func (s *sessions) cookieName() string {
	if s.tls {
		return "__Host-leavend" // only ever sent over TLS, and set by this host alone
	}
	return "leavend"
}

func (s *sessions) cookie(value string, maxAge int) *http.Cookie {
	return &http.Cookie{Name: s.cookieName(), Value: value, Path: "/", MaxAge: maxAge,
		HttpOnly: true, Secure: s.tls, SameSite: http.SameSiteStrictMode}
}

func (s *sessions) token(r *http.Request) string {
	c, err := r.Cookie(s.cookieName())
	if err != nil || len(c.Value) > 128 {
		return ""
	}
	return c.Value
}
