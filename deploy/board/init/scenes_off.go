//go:build linux

package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// names of the users in the table.
var users = map[int]string{0: "root", daemonUser: "same", otherUser: "other"}

// offRow runs `leavend mat off` as a user and holds its exit status to the line.
// It may be 0 only where the line is not high; done says whether it has to be.
func offRow(b *board, state, folder string, user int, done bool, args ...string) (row, error) {
	before, err := b.level()
	if err != nil {
		return row{}, err
	}
	took, said, code := b.command(user, append([]string{"mat", "off"}, args...)...)
	after, err := b.level()
	r := row{scene: fmt.Sprintf("`%s`: %s, folder %s, user %s", strings.Join(append([]string{"leavend mat off"}, args...), " "), state, folder, users[user]), want: "exit 1, and says to pull the plug"}
	r.saw = fmt.Sprintf("exit %d after %s, line %s, then %s: %q", code, ms(took), before, after, said)
	r.ok = code == 1 && strings.Contains(strings.ToLower(said), "pull the mat's plug")
	if done {
		r.want, r.ok = "exit 0, and the line is not high", code == 0 && after != "out high"
	}
	return r, err
}

// offScene gathers the rows of one scene, up to the first error.
type offScene struct {
	b      *board
	folder string
	rows   []row
	err    error
}

func (s *offScene) off(state string, user int, done bool, args ...string) {
	if s.err != nil {
		return
	}
	r, err := offRow(s.b, state, s.folder, user, done, args...)
	s.rows, s.err = append(s.rows, r), err
}

// do runs a step that has no row.
func (s *offScene) do(step func() error) {
	if s.err == nil {
		s.err = step()
	}
}

// stays holds the line low for longer than anything but the word of a person
// keeps it so.
func (s *offScene) stays(when string, span time.Duration) {
	if s.err != nil {
		return
	}
	level, err := s.b.stays(span)
	s.rows, s.err = append(s.rows, row{when + ", folder " + s.folder, "stays off", level + " for " + span.String(), level == "out low"}), err
}

func (s *offScene) heats() error {
	_, err := s.b.until(true, heatWithin)
	return err
}

func (s *offScene) signal(sig unix.Signal) func() error {
	return func() error { return s.b.signal(sig) }
}

// playMatOff runs `leavend mat off` against a daemon that lives, that hangs,
// that was killed, and where nothing is left, by its own user, another one, and
// root.
func playMatOff(b *board, data, run, folder string) ([]row, error) {
	s := &offScene{b: b, folder: folder}
	s.do(func() error { return b.place(data, run) })
	s.do(func() error { _, err := b.heat(); return err })
	s.off("alive and heating", otherUser, false)
	s.off("alive and heating", daemonUser, true)
	s.stays("after it, the daemon alive", 2*time.Minute+20*time.Second)
	s.do(b.allow)
	s.do(s.heats)
	s.off("alive and heating", 0, true)
	s.do(b.allow)
	s.do(s.heats)

	s.do(s.signal(unix.SIGSTOP))
	s.off("stopped while heating", otherUser, false)
	s.off("stopped while heating", daemonUser, true)
	s.do(func() error { b.ended(20 * time.Second); return b.start(false) })
	s.do(func() error { time.Sleep(5 * time.Second); return nil })
	s.stays("after it, the daemon started again", 50*time.Second)
	s.do(b.allow)
	s.do(s.heats)
	s.do(s.signal(unix.SIGSTOP))
	s.off("stopped while heating", 0, true)

	var where []string
	if run == "" { // nothing is left that leads there
		s.off("dead", daemonUser, false)
		where = []string{"--config", conf}
	}
	for _, user := range []int{daemonUser, 0, otherUser} {
		s.off("dead", user, user != otherUser, where...)
	}
	s.do(func() error { return b.place(data, run) })
	for _, user := range []int{daemonUser, 0} {
		s.off("none, and no note", user, false)
		s.off("none, and no note", user, true, "--config", conf)
	}
	return s.rows, s.err
}

// playMatOffBriefly is the part that CI plays.
func playMatOffBriefly(b *board) ([]row, error) {
	s := &offScene{b: b, folder: filepath.Base(usualRun)}
	s.do(func() error { _, err := b.heat(); return err })
	s.off("alive and heating", daemonUser, true)
	s.do(b.allow)
	s.do(s.heats)
	s.do(s.signal(unix.SIGSTOP))
	s.off("stopped while heating", 0, true)
	return s.rows, s.err
}
