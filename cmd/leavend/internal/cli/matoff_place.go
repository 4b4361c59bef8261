package cli

import (
	"context"
	"errors"
	"io/fs"
	"path/filepath"
	"slices"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/text"
)

// offPlace is where one daemon leaves its note and listens.
type offPlace struct {
	note    string             // its path; "" where instead holds
	dataDir string             // where that is known without a note
	instead *heating.Note      // what to switch where there is no note
	tell    func(text.Message) // what takes long
}

// offResult is what became of one mat.
type offResult struct {
	found bool          // there is, or was, a daemon
	none  bool          // and it has no mat
	says  text.Message  // what is so now
	line  *heating.Line // what a daemon that answers holds, and keeps low
	err   error         // why the mat is not known to be off, or to stay off
	shut  string        // the folder, if this user may not look into it
}

// off switches a mat off, by its daemon or without it.
func (p offPlace) off(ctx context.Context, afterExit bool, held []heating.Line) offResult {
	if p.note == "" {
		return p.without(ctx, *p.instead, text.Say("cli.off.later"))
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
		return offResult{found: true, err: text.Fail("cli.off.unread", text.Cause("err", err))}
	}
	if n.Line != nil && errors.Is(asked, errNoDaemon) && slices.Contains(held, *n.Line) {
		return offResult{found: true} // an old note: a daemon that answered holds the line now, and is off
	}
	how, err := p.endDaemon(n, socket, asked)
	if err != nil {
		return offResult{found: true, err: err}
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
func (p offPlace) without(ctx context.Context, n heating.Note, how text.Message) offResult {
	r := offResult{found: true}
	if n.None {
		r.none, r.says = true, text.Say("cli.off.had_none", text.Name("dir", filepath.Dir(p.note)))
		return r
	}
	kept := p.hold(n)
	what, err := outputOff(ctx, n)
	switch {
	case err != nil:
		r.err = text.Fail("cli.off.failed", text.Cause("err", err))
	case kept != nil:
		r.err = text.Fail("cli.off.unheld", text.Sub("what", what), text.Cause("err", kept))
	default:
		r.says = text.Say("cli.off.done", text.Sub("what", what), text.Sub("how", how))
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
		return offResult{found: true, err: text.Fail("cli.off.unread", text.Cause("err", err))}
	case n.None:
		return offResult{found: true, says: text.Say("cli.off.unopened")}
	case heating.Process{PID: n.PID, Started: n.Started}.Alive():
		return offResult{found: true, err: text.Fail("cli.off.still_runs", processArg(n.PID))}
	case n.Plug != nil && n.Plug.Broker == "" && !n.OffAt.IsZero():
		return offResult{found: true, says: text.Say("cli.off.plug_said", text.Time("at", n.OffAt))}
	}
	what, err := outputOff(ctx, n)
	if err != nil {
		return offResult{found: true, err: text.Fail("cli.off.failed", text.Cause("err", err))}
	}
	return offResult{found: true, says: what}
}
