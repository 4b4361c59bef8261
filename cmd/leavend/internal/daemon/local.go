package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/web"
	"leavend/cmd/leavend/internal/web/backend"
	"leavend/control"
)

// LocalName is the socket, beside the mat's note, by which commands on this
// board ask the running daemon. Its folder lets in root and leavend's group.
const LocalName = "leavend.sock"

// The paths that a command may ask for.
const (
	MatPath         = "/mat" // GET: how it is
	MatOffPath      = "/mat/off"
	MatAllowPath    = "/mat/allow"
	AcknowledgePath = "/mat/acknowledge"
)

// MatAnswer is how the mat is, as the daemon tells a command on this board.
type MatAnswer struct {
	PID      int           `json:"pid"`
	Mat      bool          `json:"mat"`                     // there is one
	Line     *heating.Line `json:"line,omitempty"`          // what it is switched by
	Mode     control.Mode  `json:"mode,omitempty"`          // what was asked of it
	Output   string        `json:"output,omitempty"`        // off, on or unknown
	Accepted bool          `json:"cautions_accepted"`       // a person has
	Held     bool          `json:"held_off"`                // it stays off until a person allows it
	Patience time.Duration `json:"patience_ns"`             // how long its output may take to answer
	Trouble  string        `json:"trouble,omitempty"`       // why the output is not known to be off
	Unkept   string        `json:"not_stored_why,omitzero"` // why that it is held off is not on the disk
}

// local answers commands on this board.
type local struct {
	heat     *heating.Heater
	conf     *config.Config
	path     string      // of the socket
	inMemory bool        // the history lasts until the end of the process
	page     *web.Server // nil without a page
	bakes    web.Bakes
	alarms   *event.Alarms
	log      *slog.Logger
}

// matNow is how the mat is now.
func (l local) matNow() MatAnswer {
	a := MatAnswer{PID: os.Getpid(), Mat: l.heat.Mat != nil}
	if !a.Mat {
		return a
	}
	s, m := l.heat.Mat.State(), l.heat.Memory()
	a.Mode, a.Output, a.Accepted, a.Held, a.Patience = s.Mode, string(s.Output), !m.Accepted.IsZero(), m.Held, l.heat.OffPatience()
	if line := heating.LineOf(l.conf.Mat); line != nil {
		a.Line = line
	}
	return a
}

// holdOff switches the mat off until a person allows it again.
func (l local) holdOff(ctx context.Context) MatAnswer {
	if l.heat.Mat == nil {
		return l.matNow()
	}
	off, stored := l.heat.HoldOff(ctx, l.inMemory)
	a := l.matNow()
	a.Held, a.Output = true, string(control.OutputOff)
	if off != nil {
		a.Output, a.Trouble = string(control.OutputUnknown), off.Error()
	}
	if stored != nil {
		a.Unkept = stored.Error()
	}
	return a
}

// routes are what commands on this board may ask.
func (l local) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+MatPath, func(w http.ResponseWriter, _ *http.Request) { answerLocal(w, l.matNow()) })
	mux.HandleFunc("POST "+MatOffPath, func(w http.ResponseWriter, r *http.Request) { answerLocal(w, l.holdOff(r.Context())) })
	mux.HandleFunc("POST "+MatAllowPath, func(w http.ResponseWriter, r *http.Request) {
		if err := l.heat.Allow(r.Context(), r.FormValue("cautions") == "accepted"); err != nil {
			refuse(w, err)
			return
		}
		answerLocal(w, l.matNow())
	})
	mux.HandleFunc("GET "+HealthPath, l.getHealth)
	mux.HandleFunc("GET "+LoavesPath, l.getLoaves)
	mux.HandleFunc("POST "+LoavesPath, l.postLoaf)
	mux.HandleFunc("GET "+PagePath, l.getPage)
	mux.HandleFunc("PUT "+PagePath, l.putPage)
	mux.HandleFunc("POST "+AcknowledgePath, func(w http.ResponseWriter, r *http.Request) {
		latched := l.heat.Mat != nil && slices.ContainsFunc(l.heat.Mat.State().Faults, func(f control.Fault) bool { return f.Latched })
		switch err := l.heat.Acknowledge(r.Context()); {
		case err != nil:
			refuse(w, err)
		case !latched:
			w.WriteHeader(http.StatusNoContent)
		}
	})
	return mux
}

// Serve answers commands on this board until ctx ends. The daemon does
// without it when the socket cannot be had.
func (l local) Serve(ctx context.Context) error {
	_ = os.Remove(l.path) // of a daemon that was killed; one that runs holds the store
	path, done := SocketPath(l.path)
	socket, err := net.Listen("unix", path)
	done()
	if err == nil {
		err = os.Chmod(l.path, 0o660)
	}
	if err != nil {
		l.log.Warn("commands on this board cannot reach leavend", "socket", l.path, "err", err)
		<-ctx.Done()
		return nil
	}
	server := &http.Server{Handler: l.routes(), ReadHeaderTimeout: 5 * time.Second}
	go func() {
		<-ctx.Done()
		_ = server.Close() // it ends Serve, whose error tells
	}()
	if err := server.Serve(socket); !errors.Is(err, http.ErrServerClosed) {
		l.log.Warn("commands on this board can no longer reach leavend", "err", err)
	}
	<-ctx.Done()
	return nil
}

// longestSocket is what the kernel takes for a socket's path (unix(7)).
const longestSocket = 107

// SocketPath is a path for the kernel to a socket, of whose own path it may take
// no more than so much: a longer one goes by its folder, which stays open until
// done is called.
func SocketPath(path string) (short string, done func()) {
	if len(path) <= longestSocket {
		return path, func() {}
	}
	dir, err := os.Open(filepath.Dir(path))
	if err != nil {
		return path, func() {}
	}
	return fmt.Sprintf("/proc/self/fd/%d/%s", dir.Fd(), filepath.Base(path)), func() { _ = dir.Close() }
}

// SocketBeside is where the socket of the daemon is that left a note.
func SocketBeside(note string) string { return filepath.Join(filepath.Dir(note), LocalName) }

// newLocal returns what answers commands on this board.
func newLocal(d *Daemon) local {
	return local{heat: d.heat, conf: d.Conf, path: d.Local, inMemory: d.temporary != "", page: d.page, bakes: backend.NewBakes(d.Monitor), alarms: d.Alarms, log: d.Log}
}

// ServeLocal answers commands on this board until ctx ends.
func (d *Daemon) ServeLocal(ctx context.Context) error { return newLocal(d).Serve(ctx) }
