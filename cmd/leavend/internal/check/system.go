package check

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Clock checks that the time of day can be trusted: every feed and every
// message carries it.
func (b Board) Clock() Result {
	const topic = "clock"
	now := text.Name("now", b.Now.Format("2006-01-02 15:04"))
	switch {
	case b.has("/run/systemd/timesync/synchronized"):
		return pass(topic, "check.clock.synced")
	case b.Now.Year() < 2024:
		return fail(topic, "check.clock.past", text.Name("day", b.Now.Format(time.DateOnly)))
	}
	ok, err := b.Synced()
	switch {
	case err != nil:
		return note(topic, "check.clock.unknown", now)
	case ok:
		return pass(topic, "check.clock.synced")
	}
	return warn(topic, "check.clock.unset", now)
}

// Space limits: below the first writing stops soon, below the second it is
// time to look.
const (
	spaceFail = 50 << 20
	spaceWarn = 500 << 20
)

// Space checks that a folder can be written and has room for what is needed,
// in bytes.
func (b Board) Space(dir string, need uint64) Result {
	const topic = "disk"
	there := dir
	for !b.has(there) && there != "/" && there != "." {
		there = filepath.Dir(there)
	}
	left, err := b.Free(b.path(there))
	if err != nil {
		return warn(topic, "check.disk.unknown", text.Name("dir", there), because(err))
	}
	folder, existing := text.Name("dir", dir), text.Name("dir", there)
	r := pass(topic, "check.disk.room", folder, text.Size("free", left), text.Size("need", need))
	switch {
	case left < spaceFail:
		r.Level, r.Do = Fail, text.Say("check.disk.full_do", existing)
		return r
	case left < spaceWarn || left < need+spaceFail:
		r.Level, r.Do = Warn, text.Say("check.disk.little_do")
		return r
	case there != dir:
		return note(topic, "check.disk.later", folder, text.Name("there", there), text.Size("free", left), text.Size("need", need))
	}
	if err := b.writable(dir); err != nil {
		return fail(topic, "check.disk.rights", text.Name("user", b.User), folder, because(err))
	}
	return r
}

// writable makes a file and takes it away again: with network disks and
// read-only cards nothing less is sure.
func (b Board) writable(dir string) error {
	f, err := os.CreateTemp(b.path(dir), ".check-*")
	if err != nil {
		return err
	}
	_, err = f.Write([]byte("leavend check\n"))
	return errors.Join(err, f.Close(), os.Remove(f.Name()))
}

// SecretFile checks that a secret's file can be read, and by no other user.
func (b Board) SecretFile(topic, path string) Result {
	info, err := os.Stat(path)
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("it is no file")
	}
	if err == nil {
		err = tryOpen(path, os.O_RDONLY)
	}
	file := text.Name("file", path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fail(topic, "check.secret.missing", file)
	case err != nil:
		return fail(topic, "check.secret.rights", text.Name("user", b.User), file, because(err))
	case info.Mode().Perm()&0o004 != 0:
		return warn(topic, "check.secret.open", file)
	case info.Size() == 0:
		return fail(topic, "check.secret.empty", file)
	}
	return pass(topic, "check.secret.good", file)
}

// Port checks that an address can be listened on. While the daemon runs it is
// taken.
func (b Board) Port(topic, key, address string, running bool) Result {
	err := b.Listen(address)
	at, set := text.Name("address", address), text.Name("key", key)
	switch {
	case err == nil:
		return pass(topic, "check.port.free", at)
	case errors.Is(err, syscall.EADDRINUSE) && running:
		return note(topic, "check.port.own", at)
	case errors.Is(err, syscall.EADDRINUSE):
		return fail(topic, "check.port.taken", at, set, text.Name("port", address[strings.LastIndex(address, ":")+1:])).without(topic)
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return fail(topic, "check.port.elsewhere", at, set).without(topic)
	case errors.Is(err, syscall.EACCES):
		return fail(topic, "check.port.low", at, set).without(topic)
	}
	return fail(topic, "check.port.fails", at, set, because(err)).without(topic)
}

// Watchdog checks whether the board restarts itself when its kernel hangs,
// which nothing in leavend could notice.
func (b Board) Watchdog() Result {
	const topic = "watchdog"
	if len(b.glob("/dev/watchdog*")) == 0 {
		return warn(topic, "check.watchdog.none")
	}
	files := append(b.glob("/etc/systemd/system.conf.d/*.conf"), b.glob("/usr/lib/systemd/system.conf.d/*.conf")...)
	for _, f := range append(files, "/etc/systemd/system.conf") {
		for _, line := range strings.Split(b.read(f), "\n") {
			key, value, ok := strings.Cut(strings.ReplaceAll(line, " ", ""), "=")
			if ok && key == "RuntimeWatchdogSec" && value != "0" && value != "off" && value != "" {
				return pass(topic, "check.watchdog.good", text.Name("after", value), text.Name("file", f))
			}
		}
	}
	return warn(topic, "check.watchdog.unused")
}

// AsRoot warns of running with more rights than are needed.
func (b Board) AsRoot() (Result, bool) {
	if b.UID != 0 {
		return Result{}, false
	}
	return note("user", "check.user.root"), true
}
