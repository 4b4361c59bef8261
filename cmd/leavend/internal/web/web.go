// Package web serves the page: what each jar does, when its peak comes, whether
// the mat is all right, and one button to say "fed".
//
// The page is embedded, needs no build step and loads nothing from the
// internet. It uses the same HTTP API that openapi.json describes. Everything it
// knows of the daemon comes through the interfaces of a Backend; news is pushed by
// calling Changed, which never blocks.
//
// Reading and changing are separate rights. By default the server listens on
// loopback only. Once it listens anywhere else, changing needs the password
// that is chosen at the first start, and reading needs it too unless the
// configuration opens reading.
package web

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strings"
	"time"

	"golang.org/x/net/netutil"

	"leavend/cmd/leavend/internal/web/access"
	"leavend/cmd/leavend/internal/web/cert"
	"leavend/cmd/leavend/internal/web/page"
)

// DefaultListen is the address of the page unless the configuration names
// another: this machine only.
const DefaultListen = "127.0.0.1:8420"

// Opts are the settings of a Server; the zero value serves on loopback
// without TLS and keeps the password and sessions in memory only.
type Opts struct {
	Listen      string   // address; default DefaultListen
	OpenReading bool     // anyone who reaches the address may read
	Hosts       []string // host names accepted besides IP addresses, localhost and this machine's name
	DataDir     string   // for the password, sessions and the self-made certificate; "" keeps them in memory

	CertFile, KeyFile string // PEM files; both or none
	SelfSigned        bool   // serve TLS with a certificate made here and kept in DataDir

	// Mounts are further handlers on the same address, such as /metrics. They
	// need the right to read.
	Mounts map[string]http.Handler

	// Open are handlers like Mounts that need no right at all: they judge each
	// request themselves.
	Open map[string]http.Handler

	// Restore goes back to the last backup; nil where it cannot be done from the
	// page.
	Restore Restore

	// Walk sets up the first vessel from the page; nil where nothing can be.
	Walk Walk

	// Household changes the jars and bowls of the configuration; nil where it cannot.
	Household Household

	// Reach opens the page to the home network; nil where it cannot.
	Reach Reach

	// Messages chooses who is told; nil where that cannot be chosen.
	Messages Messages

	Log *slog.Logger     // default slog.Default()
	Now func() time.Time // the clock; default time.Now
}

// Server is the page and its API. Make it with New and call Run.
type Server struct {
	opts     Opts
	log      *slog.Logger
	now      func() time.Time
	sessions *sessions
	snaps    snapshots
	stream   *stream
	page     *page.Page
	index    *index
	hosts    map[string]bool
	mux      *http.ServeMux
}

// New prepares a server. It reads the stored password but opens no port and
// starts no goroutine. A password file that cannot be read ends nothing: see
// AccessTrouble.
func New(b Backend, opts Opts) (*Server, error) {
	if opts.Listen == "" {
		opts.Listen = DefaultListen
	}
	if opts.Log == nil {
		opts.Log = slog.Default()
	}
	if opts.Now == nil {
		opts.Now = time.Now
	}
	if (opts.CertFile == "") != (opts.KeyFile == "") {
		return nil, errors.New("web: a certificate file and a key file belong together: set both or none")
	}
	host, _, err := net.SplitHostPort(opts.Listen)
	if err != nil {
		return nil, fmt.Errorf("web: listen address %q: %w", opts.Listen, err)
	}
	files, err := page.New()
	if err != nil {
		return nil, err
	}
	document, err := newIndex(files.Document, files.Begin)
	if err != nil {
		return nil, err
	}
	s := &Server{opts: opts, log: opts.Log, now: opts.Now, page: files, index: document, hosts: hostNames(opts.Hosts), snaps: snapshots{b.Watch, b.Plans, opts.Now}}
	s.sessions = &sessions{keys: access.Open(opts.DataDir, opts.Now, opts.Log), tries: access.NewTries(opts.Now), log: opts.Log, local: isLoopbackName(host), tls: s.TLS(), open: opts.OpenReading}
	s.stream = newStream(s.snaps.encoded)
	s.mux = s.routes(b)
	return s, nil
}

// hostNames gathers the names under which this machine may be addressed. A
// request for any other name is a page elsewhere that had its name pointed
// at us.
func hostNames(more []string) map[string]bool {
	names := map[string]bool{"localhost": true}
	if h, err := os.Hostname(); err == nil && h != "" {
		h = strings.ToLower(h)
		names[h] = true
		names[h+".local"] = true
	}
	for _, h := range more {
		names[strings.ToLower(strings.TrimSuffix(h, "."))] = true
	}
	return names
}

func isLoopbackName(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// TLS reports whether the server will speak TLS.
func (s *Server) TLS() bool { return s.opts.CertFile != "" || s.opts.SelfSigned }

// Changed tells the server that Now would answer differently. It never
// blocks; many calls in a short time make one message to the visitors.
func (s *Server) Changed() { s.stream.changed() }

// SetupCode returns the code that a visitor from elsewhere needs to choose
// the first password, or "" once there is one.
func (s *Server) SetupCode() string { return s.sessions.keys.SetupCode() }

// AccessTrouble returns why the file with the password cannot be read. Until it
// can, sign-in does not work.
func (s *Server) AccessTrouble() error { return s.sessions.keys.Usable() }

// Handler returns the whole page with all its checks, for tests and for
// mounting elsewhere.
func (s *Server) Handler() http.Handler { return s.guard(s.mux) }

// maxConns bounds open connections: a kitchen has a few phones, and a board
// has little memory.
const maxConns = 512

// Serve serves on l until ctx ends, then lets running requests finish for a few
// seconds. It returns nil after an orderly end.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	l = netutil.LimitListener(l, maxConns)
	scheme := "http"
	if s.TLS() {
		config, err := cert.Opts{CertFile: s.opts.CertFile, KeyFile: s.opts.KeyFile, Dir: s.opts.DataDir, Hosts: s.hosts, Now: s.now, Log: s.log}.Config()
		if err != nil {
			_ = l.Close()
			return err
		}
		l, scheme = tls.NewListener(cert.Redirect(l), config), "https"
	}
	s.log.Info("web: the page is served", slog.String("url", scheme+"://"+l.Addr().String()+"/"))
	if code := s.sessions.keys.SetupCode(); code != "" && !s.sessions.local {
		s.log.Info("web: no password is set; choose one on the page with this set-up code", slog.String(access.SetupCodeKey, code))
	}
	return s.serve(ctx, l)
}

func (s *Server) serve(ctx context.Context, l net.Listener) error {
	streams, stop := context.WithCancel(ctx)
	defer stop()
	server := &http.Server{
		Handler:           s.Handler(),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       20 * time.Second,
		WriteTimeout:      30 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    16 << 10,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
		// Streams end with the daemon: Shutdown would wait for them.
		BaseContext: func(net.Listener) context.Context { return streams },
		ConnContext: withService,
	}
	pushed := make(chan struct{})
	go func() { defer close(pushed); s.stream.run(streams) }()
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	var err error
	select {
	case err = <-ended:
	case <-ctx.Done():
		grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 3*time.Second)
		err = server.Shutdown(grace)
		cancel()
		if err != nil {
			err = server.Close()
		}
		<-ended
	}
	stop()
	<-pushed
	if err != nil && !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("web: %w", err)
	}
	return nil
}
