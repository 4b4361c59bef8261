package cli

import (
	"context"
	"errors"
	"net/http"
	"path/filepath"
	"strconv"
	"time"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/text"
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
	pid := processArg(a.PID)
	switch {
	case !a.Mat:
		r.none, r.says = true, text.Say("cli.off.runs_without", pid)
	case a.Output != string(control.OutputOff):
		r.line = nil
		r.err = text.Fail("cli.off.unknown", pid, text.Name("why", a.Trouble))
	case a.Unkept != "":
		r.err = text.Fail("cli.off.unstored", pid, text.Name("why", a.Unkept))
	default:
		r.says = text.Say("cli.off.off", pid)
	}
	return r
}

// processArg is the number of a process.
func processArg(pid int) text.Arg { return text.Name("pid", strconv.Itoa(pid)) }

// endDaemon leaves word that the mat is to stay off, and ends a daemon that is
// there and does not answer. How says what it did.
func (p offPlace) endDaemon(n heating.Note, socket string, asked error) (how text.Message, err error) {
	daemon := heating.Process{PID: n.PID, Started: n.Started}
	if !daemon.Alive() {
		var listens bool
		if daemon, listens = peer(socket); !listens || !errors.Is(asked, errHung) {
			return text.Say("cli.off.not_running"), nil
		}
	}
	// Before the end: systemd starts the daemon again, and that one has to see it.
	_ = p.hold(n) // its error is told by without
	if err := daemon.End(); err != nil {
		return how, text.Fail("cli.off.not_ended", processArg(daemon.PID), text.Cause("err", err))
	}
	return text.Say(wasEnded, processArg(daemon.PID)), nil
}

// wasEnded says that a daemon was ended.
const wasEnded = "cli.off.ended"

// againWithin is how long the daemon that systemd starts in place of one that
// was ended may take to reach its plug: five seconds until it starts, and then
// the plug has to find its broker.
const againWithin = 40 * time.Second

// startedAgain asks the daemon that systemd starts in place of one that was
// ended, where no other program can ask the plug: its broker ended with the daemon.
func (p offPlace) startedAgain(ctx context.Context, n heating.Note, socket string, how text.Message) (r offResult) {
	service := filepath.Dir(p.note) == heating.UsualFolders()[0]
	if n.Plug == nil || n.Plug.Broker != "" || how.Key != wasEnded || !service {
		return r
	}
	p.tell(text.Say("cli.off.waiting", text.Duration("limit", againWithin)))
	for end := time.Now().Add(againWithin); time.Now().Before(end) && ctx.Err() == nil; time.Sleep(time.Second) {
		if a, err := askOff(ctx, socket); err == nil {
			if r = answered(a); r.err == nil {
				r.says = text.Say("cli.off.again", text.Sub("what", r.says))
				return r
			}
		}
	}
	return offResult{}
}
