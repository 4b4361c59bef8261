package main

import (
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/control"
)

// localName is the socket, beside the mat's note, by which commands on this
// board ask the running daemon. Its folder lets in root and leavend's group.
const localName = "leavend.sock"

// The paths that a command may ask for.
const acknowledgePath = "/mat/acknowledge"

// acknowledge clears the mat's latched faults, unless their cause still holds,
// and keeps that before it returns.
func (d *daemon) acknowledge(ctx context.Context) error {
	if d.warm == nil {
		return errNoMat
	}
	if err := d.warm.Acknowledge(d.clock.Now()); err != nil {
		return err
	}
	d.teller.Came(event.SubjectMat)
	return d.remember(ctx, func(m *matMemory) { m.Kept = d.warm.Snapshot().Coarse() })
}

// serveLocal answers commands on this board until ctx ends. The house does
// without it when the socket cannot be had.
func (d *daemon) serveLocal(ctx context.Context) error {
	_ = os.Remove(d.local) // of a daemon that was killed; one that runs holds the store
	l, err := net.Listen("unix", d.local)
	if err == nil {
		err = os.Chmod(d.local, 0o660)
	}
	if err != nil {
		d.log.Warn("commands on this board cannot reach leavend", "socket", d.local, "err", err)
		<-ctx.Done()
		return nil
	}
	mux := http.NewServeMux()
	mux.HandleFunc("POST "+acknowledgePath, func(w http.ResponseWriter, r *http.Request) {
		latched := d.warm != nil && slices.ContainsFunc(d.warm.State().Faults, func(f control.Fault) bool { return f.Latched })
		switch err := d.acknowledge(r.Context()); {
		case err != nil:
			http.Error(w, err.Error(), http.StatusConflict)
		case !latched:
			w.WriteHeader(http.StatusNoContent)
		}
	})
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}
	go func() {
		<-ctx.Done()
		_ = server.Close() // it ends Serve, whose error tells
	}()
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		d.log.Warn("commands on this board can no longer reach leavend", "err", err)
	}
	<-ctx.Done()
	return nil
}

// locals are where the socket of a running daemon may be.
func locals(dataDir string) []string {
	var out []string
	for _, note := range defaultMatStates() {
		out = append(out, filepath.Join(filepath.Dir(note), localName))
	}
	return append(out, filepath.Join(dataDir, localName))
}
