package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sys/unix"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/text"
)

// hungAfter is how long a daemon may take to say how its mat is, which it
// knows without asking another part. One that takes longer does not hold the mat.
const hungAfter = 5 * time.Second

// What came of asking a daemon, where it is no answer.
var (
	errNothing   = errors.New("there was nothing to do")
	errNoDaemon  = errors.New("no daemon listens")
	errForbidden = text.Fail("cli.ask.forbidden")
	errHung      = text.Fail("cli.ask.hung")
)

// refused is a daemon's refusal: a sentence, or the plain words of another version.
func refused(body []byte) error {
	e := new(text.Error)
	if json.Unmarshal(body, &e.Say) != nil || e.Say.IsZero() {
		return errors.New(strings.TrimSpace(string(body)))
	}
	return e
}

// askDaemon asks the daemon at a socket, and reads its answer into into, which
// may be nil.
func askDaemon(ctx context.Context, socket, method, path string, within time.Duration, into any) error {
	return tellDaemon(ctx, socket, method, path, within, nil, into)
}

// tellDaemon is askDaemon with something to say, as JSON.
func tellDaemon(ctx context.Context, socket, method, path string, within time.Duration, body, into any) error {
	var asked io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			return err
		}
		asked = bytes.NewReader(b)
	}
	client := http.Client{Timeout: within, Transport: &http.Transport{
		DisableKeepAlives: true,
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			path, done := daemon.SocketPath(socket)
			defer done()
			return new(net.Dialer).DialContext(ctx, "unix", path)
		},
	}}
	req, err := http.NewRequestWithContext(ctx, method, "http://leavend"+path, asked)
	if err != nil {
		return err
	}
	answer, err := client.Do(req)
	switch {
	case errors.Is(err, syscall.ENOENT), errors.Is(err, syscall.ECONNREFUSED), errors.Is(err, syscall.ENOTDIR):
		return errNoDaemon
	case errors.Is(err, fs.ErrPermission):
		return errForbidden
	case err != nil && ctx.Err() != nil:
		return ctx.Err()
	case os.IsTimeout(err):
		return fmt.Errorf("%w (%s)", errHung, within)
	case err != nil:
		return fmt.Errorf("%w: %w", errHung, err)
	}
	defer answer.Body.Close()
	said, err := io.ReadAll(io.LimitReader(answer.Body, 1<<16))
	switch {
	case err != nil:
		return fmt.Errorf("%w: %w", errHung, err)
	case answer.StatusCode == http.StatusNoContent:
		return errNothing
	case answer.StatusCode == http.StatusConflict:
		return refused(said)
	case answer.StatusCode != http.StatusOK:
		return fmt.Errorf("%w: %s", errHung, answer.Status)
	case into == nil:
		return nil
	}
	return json.Unmarshal(said, into)
}

// peer is the process that listens at a socket, as the kernel says. It is there
// also for one that is stopped.
func peer(socket string) (heating.Process, bool) {
	path, done := daemon.SocketPath(socket)
	defer done()
	conn, err := net.DialTimeout("unix", path, time.Second)
	if err != nil {
		return heating.Process{}, false
	}
	defer conn.Close()
	raw, err := conn.(*net.UnixConn).SyscallConn()
	if err != nil {
		return heating.Process{}, false
	}
	var cred *unix.Ucred
	var got error
	if err := raw.Control(func(fd uintptr) { cred, got = unix.GetsockoptUcred(int(fd), unix.SOL_SOCKET, unix.SO_PEERCRED) }); err != nil || got != nil {
		return heating.Process{}, false
	}
	p := heating.Process{PID: int(cred.Pid)}
	p.Started, _ = heating.ProcessStart(p.PID)
	return p, true
}

// runningFolders are the folders in which a daemon listens, whatever it was
// configured to and whoever runs it: the kernel lists the names of all sockets
// to every user (proc_net(5)).
func runningFolders() []string {
	list, err := os.ReadFile("/proc/net/unix")
	if err != nil {
		return nil
	}
	return foldersIn(string(list))
}

func foldersIn(list string) (folders []string) {
	for line := range strings.Lines(list) {
		i := strings.IndexByte(line, '/')
		if i < 0 {
			continue
		}
		path := strings.TrimRight(line[i:], "\n")
		if dir := filepath.Dir(path); filepath.Base(path) == daemon.LocalName && !slices.Contains(folders, dir) {
			folders = append(folders, dir)
		}
	}
	return folders
}

// daemonFolders are all in which a daemon may have left something, those where
// one listens first.
func daemonFolders() []string {
	folders := runningFolders()
	for _, dir := range append(heating.UsualFolders(), whoRuns().stateDir()) {
		if dir != "" && !slices.Contains(folders, dir) {
			folders = append(folders, dir)
		}
	}
	return folders
}
