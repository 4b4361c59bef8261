package cli

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/heating"
	"leavend/control"
)

// askOff has a daemon switch off. One that does not say how its mat is does not
// hold it either.
func askOff(ctx context.Context, socket string) (a daemon.MatAnswer, err error) {
	if err = askDaemon(ctx, socket, http.MethodGet, daemon.MatPath, hungAfter, &a); err == nil {
		err = askDaemon(ctx, socket, http.MethodPost, daemon.MatOffPath, a.Patience+hungAfter, &a)
	}
	return a, err
}

// answered is what a daemon's answer means.
func answered(a daemon.MatAnswer) offResult {
	r := offResult{found: true, line: a.Line}
	running := fmt.Sprintf("leavend runs (process %d)", a.PID)
	switch {
	case !a.Mat:
		r.none, r.says = true, running+" and has no mat"
	case a.Output != string(control.OutputOff):
		r.line = nil
		r.err = fmt.Errorf("%s and has told its mat to be off, again and again, but does not know that it is: %s. Pull the mat's plug", running, a.Trouble)
	case a.Unkept != "":
		r.err = fmt.Errorf("the mat is off, and %s and keeps it off, but that could not be stored (%s): after a restart of the board it would heat again. %s", running, a.Unkept, pullIt)
	default:
		r.says = "the mat is off; " + running + ", and " + untilAllowed
	}
	return r
}

// endDaemon leaves word that the mat is to stay off, and ends a daemon that is
// there and does not answer. How says what it did.
func (p offPlace) endDaemon(n heating.Note, socket string, asked error) (how string, err error) {
	daemon := heating.Process{PID: n.PID, Started: n.Started}
	if !daemon.Alive() {
		var listens bool
		if daemon, listens = peer(socket); !listens || !errors.Is(asked, errHung) {
			return "leavend does not run; when it is started, " + untilAllowed, nil
		}
	}
	// Before the end: systemd starts the daemon again, and that one has to see it.
	_ = p.hold(n) // its error is told by without
	if err := daemon.End(); err != nil {
		return "", fmt.Errorf("leavend (process %d) does not answer, and %w", daemon.PID, err)
	}
	return fmt.Sprintf("leavend (process %d) did not answer and was ended; when it is started again, %s", daemon.PID, untilAllowed), nil
}

// againWithin is how long the daemon that systemd starts in place of one that
// was ended may take to reach its plug: five seconds until it starts, and then
// the plug has to find its broker.
const againWithin = 40 * time.Second

// startedAgain asks the daemon that systemd starts in place of one that was
// ended, where no other program can ask the plug: its broker ended with the daemon.
func (p offPlace) startedAgain(ctx context.Context, n heating.Note, socket, how string) (r offResult) {
	service := filepath.Dir(p.note) == heating.UsualFolders()[0]
	if n.Plug == nil || n.Plug.Broker != "" || !strings.Contains(how, "was ended") || !service {
		return r
	}
	p.tell(fmt.Sprintf("leavend did not answer and was ended; for up to %s it may start again and switch the plug off. Pull the plug if you cannot wait.", againWithin))
	for end := time.Now().Add(againWithin); time.Now().Before(end) && ctx.Err() == nil; time.Sleep(time.Second) {
		if a, err := askOff(ctx, socket); err == nil {
			if r = answered(a); r.err == nil {
				r.says = "leavend did not answer, was ended and has started again; " + r.says
				return r
			}
		}
	}
	return offResult{}
}
