package metrics

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/prometheus/exporter-toolkit/web"
	"golang.org/x/net/netutil"
)

// CheckWebConfig returns an error unless path is empty or holds a web config
// as Prometheus exporters read it (TLS and basic auth).
func CheckWebConfig(path string) error {
	if path == "" {
		return nil
	}
	if err := web.Validate(path); err != nil {
		return fmt.Errorf("metrics: web config %s: %w", path, err)
	}
	return nil
}

// maxConns bounds open connections: a collector needs one, and a board has
// little memory.
const maxConns = 32

// Serve shows the page at /metrics on a port of its own until ctx ends. The
// web config at path, if any, brings TLS and basic auth.
func (m *Metrics) Serve(ctx context.Context, l net.Listener, webConfig string, log *slog.Logger) error {
	if err := CheckWebConfig(webConfig); err != nil {
		l.Close()
		return err
	}
	landing, err := web.NewLandingPage(web.LandingConfig{
		Name: "leavend", Description: "Numbers of a sourdough watcher", Version: m.opts.Version,
		Profiling: "false",
		Links:     []web.LandingLinks{{Address: "/metrics", Text: "Metrics"}},
	})
	if err != nil {
		l.Close()
		return fmt.Errorf("metrics: %w", err)
	}
	mux := http.NewServeMux()
	mux.Handle("/metrics", m.Handler())
	mux.Handle("/{$}", landing)
	l = netutil.LimitListener(l, maxConns)
	server := &http.Server{
		Handler: mux, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 30 * time.Second,
		IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10,
	}
	stop := context.AfterFunc(ctx, func() { server.Close() })
	defer stop()
	err = web.Serve(l, server, &web.FlagConfig{WebConfigFile: &webConfig}, log)
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return fmt.Errorf("metrics: %w", err)
}
