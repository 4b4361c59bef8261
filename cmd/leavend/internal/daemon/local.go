package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
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

// matNow is how the mat is now.
func (d *Daemon) matNow() MatAnswer {
	a := MatAnswer{PID: os.Getpid(), Mat: d.Warm != nil}
	if d.Warm == nil {
		return a
	}
	s, m := d.Warm.State(), d.keeper.Memory()
	a.Mode, a.Output, a.Accepted, a.Held, a.Patience = s.Mode, string(s.Output), !m.Accepted.IsZero(), m.Held, d.offPatience()
	if line := heating.LineOf(d.Conf.Mat); line != nil {
		a.Line = line
	}
	return a
}

// offPatience is how long the mat's output may take to confirm an off.
func (d *Daemon) offPatience() time.Duration {
	if d.Conf.Mat.Output == "plug" {
		return d.Conf.Mat.Plug.EchoDeadline
	}
	return time.Second
}

// holdOff switches the mat off until a person allows it again, and finds out
// whether it is: an output that can answer is asked now.
func (d *Daemon) holdOff(ctx context.Context) MatAnswer {
	if d.Warm == nil {
		return d.matNow()
	}
	now := d.Clock.Now()
	_ = d.Warm.SetMode(now, control.Off) // off is a mode that is never refused
	stored := make(chan error, 1)
	go func() {
		err := d.remember(context.WithoutCancel(ctx), func(m *heating.Memory) { m.Mode, m.Held = control.Off, true })
		if d.stopgap != "" { // the history lasts only until the end
			err = heating.HoldOff(d.Conf.DataDir, filepath.Dir(d.noteFile))
		}
		stored <- err
	}()
	off := OffConfirmed(ctx, d.out, d.offPatience())
	a := d.matNow()
	a.Held, a.Output = true, string(control.OutputOff)
	if off != nil {
		a.Output, a.Trouble = string(control.OutputUnknown), off.Error()
	}
	select {
	case err := <-stored:
		if err != nil {
			a.Unkept = err.Error()
		}
	case <-time.After(2 * time.Second):
		a.Unkept = "the disk does not answer"
	}
	d.tellWaits(now)
	return a
}

// OffConfirmed tells an output to be off, until it says that it is. A plug may
// lose a word, so it is told again.
func OffConfirmed(ctx context.Context, out control.Output, within time.Duration) error {
	err := errors.New("it was not reached")
	for until := time.Now().Add(within); ; {
		left := time.Until(until)
		if left <= 0 {
			return err
		}
		if err = out.Off(ctx); err == nil {
			if check.Confirmed(ctx, out, min(left, 2*time.Second)) == nil {
				return nil
			}
			err = fmt.Errorf("%s was told so for %s, and does not answer", out, within.Round(time.Second))
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(min(left, 200*time.Millisecond)):
		}
	}
}

// acknowledge clears the mat's latched faults, unless their cause still holds,
// and keeps that before it returns.
func (d *Daemon) acknowledge(ctx context.Context) error {
	if d.Warm == nil {
		return heating.ErrNoMat
	}
	if err := d.Warm.Acknowledge(d.Clock.Now()); err != nil {
		return err
	}
	d.teller.Came(event.SubjectMat)
	kept := d.Warm.Snapshot()
	if err := d.remember(ctx, func(m *heating.Memory) { m.Kept = kept }); err != nil {
		return fmt.Errorf("the faults are acknowledged, but that could not be stored (%w): after a restart of the board they are back", err)
	}
	return nil
}

// localRoutes are what commands on this board may ask.
func (d *Daemon) localRoutes() http.Handler {
	mux := http.NewServeMux()
	answer := func(w http.ResponseWriter, a MatAnswer) {
		w.Header().Set("Content-Type", "application/json")
		_ = json.NewEncoder(w).Encode(a) // who asked has gone, if it fails
	}
	mux.HandleFunc("GET "+MatPath, func(w http.ResponseWriter, _ *http.Request) { answer(w, d.matNow()) })
	mux.HandleFunc("POST "+MatOffPath, func(w http.ResponseWriter, r *http.Request) { answer(w, d.holdOff(r.Context())) })
	mux.HandleFunc("POST "+MatAllowPath, func(w http.ResponseWriter, r *http.Request) {
		if err := d.allow(r.Context(), r.FormValue("cautions") == "accepted"); err != nil {
			http.Error(w, err.Error(), http.StatusConflict)
			return
		}
		answer(w, d.matNow())
	})
	mux.HandleFunc("GET "+PagePath, d.getPage)
	mux.HandleFunc("PUT "+PagePath, d.putPage)
	mux.HandleFunc("POST "+AcknowledgePath, func(w http.ResponseWriter, r *http.Request) {
		latched := d.Warm != nil && slices.ContainsFunc(d.Warm.State().Faults, func(f control.Fault) bool { return f.Latched })
		switch err := d.acknowledge(r.Context()); {
		case err != nil:
			http.Error(w, err.Error(), http.StatusConflict)
		case !latched:
			w.WriteHeader(http.StatusNoContent)
		}
	})
	return mux
}

// ServeLocal answers commands on this board until ctx ends. The daemon does
// without it when the socket cannot be had.
func (d *Daemon) ServeLocal(ctx context.Context) error {
	_ = os.Remove(d.Local) // of a daemon that was killed; one that runs holds the store
	path, done := SocketPath(d.Local)
	l, err := net.Listen("unix", path)
	done()
	if err == nil {
		err = os.Chmod(d.Local, 0o660)
	}
	if err != nil {
		d.Log.Warn("commands on this board cannot reach leavend", "socket", d.Local, "err", err)
		<-ctx.Done()
		return nil
	}
	server := &http.Server{Handler: d.localRoutes(), ReadHeaderTimeout: 5 * time.Second}
	go func() {
		<-ctx.Done()
		_ = server.Close() // it ends Serve, whose error tells
	}()
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		d.Log.Warn("commands on this board can no longer reach leavend", "err", err)
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
