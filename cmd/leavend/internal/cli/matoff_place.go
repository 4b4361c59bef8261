package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/heating"
)

// offPlace is where one daemon leaves its note and listens.
type offPlace struct {
	note    string        // its path; "" where instead holds
	dataDir string        // where that is known without a note
	instead *heating.Note // what to switch where there is no note
	tell    func(string)  // what takes long
}

// offResult is what became of one mat.
type offResult struct {
	found bool          // there is, or was, a daemon
	none  bool          // and it has no mat
	says  string        // what is so now
	line  *heating.Line // what a daemon that answers holds, and keeps low
	err   error         // why the mat is not known to be off, or to stay off
	shut  string        // the folder, if this user may not look into it
}

// untilAllowed ends what is said of a mat that stays off.
const untilAllowed = "the mat stays off until you allow it on the page or with 'leavend mat allow'"

// off switches a mat off, by its daemon or without it.
func (p offPlace) off(ctx context.Context, afterExit bool, held []heating.Line) offResult {
	if p.note == "" {
		return p.without(ctx, *p.instead, "")
	}
	if afterExit {
		return p.afterExit(ctx)
	}
	socket := daemon.SocketBeside(p.note)
	now, asked := askOff(ctx, socket)
	switch {
	case asked == nil:
		return answered(now)
	case errors.Is(asked, errForbidden):
		return offResult{found: true, shut: filepath.Dir(p.note)}
	case ctx.Err() != nil:
		return offResult{found: true, err: ctx.Err()}
	}
	n, err := heating.ReadNote(p.note)
	switch {
	case errors.Is(err, fs.ErrNotExist) && p.instead != nil:
		n = *p.instead
	case errors.Is(err, fs.ErrNotExist) && errors.Is(asked, errNoDaemon):
		return offResult{}
	case errors.Is(err, fs.ErrPermission):
		return offResult{found: true, shut: filepath.Dir(p.note)}
	case err != nil:
		return offResult{found: true, err: fmt.Errorf("%w, so what switches the mat is not known; switch it off with that version, or give --line. %s", err, pullIt)}
	}
	if n.Line != nil && errors.Is(asked, errNoDaemon) && slices.Contains(held, *n.Line) {
		return offResult{found: true} // an old note: a daemon that answered holds the line now, and is off
	}
	how, err := p.endDaemon(n, socket, asked)
	if err != nil {
		return offResult{found: true, err: fmt.Errorf("%w; put sudo in front. %s", err, pullIt)}
	}
	if again := p.startedAgain(ctx, n, socket, how); again.found {
		return again
	}
	return p.without(ctx, n, how)
}

// hold leaves word that the mat is to stay off.
func (p offPlace) hold(n heating.Note) error {
	data := p.dataDir
	if data == "" {
		data = n.DataDir
	}
	if p.note == "" {
		return heating.HoldOff(data)
	}
	beside := filepath.Dir(p.note)
	if data == "" { // version 1 did not say
		if data = beside; data == heating.UsualFolders()[0] {
			data = heating.UsualFolders()[1]
		}
	}
	return heating.HoldOff(data, beside)
}

// without switches an output off that no daemon holds, and keeps it off.
func (p offPlace) without(ctx context.Context, n heating.Note, how string) offResult {
	r := offResult{found: true}
	if n.None {
		r.none, r.says = true, "the leavend of "+filepath.Dir(p.note)+" had no mat when it ran last, and does not run now"
		return r
	}
	kept := p.hold(n)
	what, err := outputOff(ctx, n)
	switch {
	case err != nil:
		r.err = fmt.Errorf("%w. Pull the mat's plug", err)
	case kept != nil:
		r.err = fmt.Errorf("%s, but no word could be left that it is to stay off (%w): a leavend that is started heats again. Put sudo in front, or make room. %s", what, kept, pullIt)
	case how == "":
		r.says = what + "; when leavend is started, " + untilAllowed
	default:
		r.says = what + "; " + how
	}
	return r
}

// afterExit switches off what a daemon has left behind that has just ended. It
// ends no process, and leaves no file to stay off: the next start may heat.
func (p offPlace) afterExit(ctx context.Context) offResult {
	n, err := heating.ReadNote(p.note)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return offResult{}
	case err != nil:
		return offResult{found: true, err: fmt.Errorf("%w, so what switches the mat is not known. %s", err, pullIt)}
	case n.None:
		return offResult{found: true, says: "this leavend had no mat"}
	case heating.Process{PID: n.PID, Started: n.Started}.Alive():
		return offResult{found: true, err: fmt.Errorf("leavend (process %d) still runs; leave --after-exit out", n.PID)}
	case n.Plug != nil && n.Plug.Broker == "" && !n.OffAt.IsZero():
		return offResult{found: true, says: "the plug said that it is off when leavend ended, at " + n.OffAt.Format(time.TimeOnly)}
	}
	what, err := outputOff(ctx, n)
	if err != nil {
		return offResult{found: true, err: fmt.Errorf("%w. %s", err, pullIt)}
	}
	return offResult{found: true, says: what}
}
