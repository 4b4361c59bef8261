//go:build linux

package cli

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/campaign"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// inOwnNamespace, set in the environment, is the part of the table to play in a
// process that has a network, a /run and a /var/lib of its own. Without them
// `leavend mat off` would find the daemons of this machine, and switch their mats
// off. The rows go into the file that rowsFile names.
const (
	inOwnNamespace = "LEAVEND_TEST_OWN_NAMESPACE"
	rowsFile       = "LEAVEND_TEST_ROWS"
)

// The users of the table: the daemon's own, and one that has nothing to do with
// it. Root is the third.
const (
	sameUser  = 12340
	otherUser = 12341
)

// TestMatOffTable has `leavend mat off` run against a daemon that is alive,
// stopped, killed, or was never there, by its own user, another one and root,
// with a plug behind a real broker, and holds each exit status to what the plug
// truly does: 0 only where it is off and stays off. The rows with a GPIO line
// are played on the virtual board (deploy/board). The other data folder and the
// broker inside are played with LEAVEND_LONG=1, for they take ten minutes.
func TestMatOffTable(t *testing.T) {
	if testing.Short() {
		t.Skip("it takes some minutes")
	}
	if os.Geteuid() != 0 {
		t.Skip("users and namespaces are for root")
	}
	leavendtest.RealPeer(t, "mosquitto", "mosquitto")
	if part := os.Getenv(inOwnNamespace); part != "" {
		ownFolders(t)
		playPart(t, part)
		return
	}
	t.Parallel()
	parts := []string{"usual alive", "usual stopped"}
	if long() {
		parts = append(parts, "other alive", "other stopped", "own broker")
	}
	rows := make([]string, len(parts))
	t.Run("parts", func(t *testing.T) {
		for i, part := range parts {
			t.Run(part, func(t *testing.T) {
				t.Parallel()
				rows[i] = inNamespace(t, part)
			})
		}
	})
	table := "| daemon | folder | user | exit | the plug | took | says |\n|---|---|---|---|---|---|---|\n" + strings.Join(rows, "")
	t.Log("\n" + table)
	if os.Getenv("LEAVEND_WRITE_TABLE") == "" || t.Failed() {
		return
	}
	text, err := os.ReadFile(offResults)
	if err != nil {
		t.Fatal(err)
	}
	before, _, _ := strings.Cut(string(text), offMark)
	if err := os.WriteFile(offResults, []byte(before+offMark+"\n\n"+table), 0o644); err != nil {
		t.Fatal(err)
	}
}

// inNamespace plays a part in a process of its own, and returns its rows. The parts
// wait more than they work, so they are played at once.
func inNamespace(t *testing.T, part string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "rows")
	cmd := exec.Command(os.Args[0], "-test.run=^TestMatOffTable$", "-test.v")
	cmd.Env = append(os.Environ(), inOwnNamespace+"="+part, rowsFile+"="+file)
	cmd.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNET | syscall.CLONE_NEWNS}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Errorf("in a namespace of its own: %v", err)
	}
	rows, _ := os.ReadFile(file) // one that was skipped has none
	return string(rows)
}

// playPart plays a part of the table in this process.
func playPart(t *testing.T, part string) {
	t.Helper()
	var b *offBench
	switch folder, state, _ := strings.Cut(part, " "); {
	case part == "own broker":
		b = newOwnBrokerBench(t)
		b.playOwnBroker(t)
	case state == "alive":
		b = newOffBench(t, folder)
		b.playAlive(t)
	default:
		b = newOffBench(t, folder)
		b.playStopped(t)
	}
	if err := os.WriteFile(os.Getenv(rowsFile), []byte(strings.Join(b.rows, "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}

// long reports whether the whole table is to be played, as it is written down.
func long() bool {
	return campaign.Long() || os.Getenv("LEAVEND_WRITE_TABLE") != ""
}

// offResults is where the table stands, behind offMark.
const (
	offResults = "../../../../deploy/mosquitto/RESULTS.md"
	offMark    = "<!-- table -->"
)

// ownFolders gives this process a loopback and folders of its own.
func ownFolders(t *testing.T) {
	t.Helper()
	if err := unix.Mount("", "/", "", unix.MS_REC|unix.MS_PRIVATE, ""); err != nil {
		t.Skipf("no mounts here: %v", err)
	}
	for _, dir := range []string{"/run", "/var/lib"} {
		if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "mode=755"); err != nil {
			t.Fatal(err)
		}
	}
	s, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer unix.Close(s)
	req, err := unix.NewIfreq("lo")
	if err != nil {
		t.Fatal(err)
	}
	req.SetUint16(unix.IFF_UP)
	if err := unix.IoctlIfreq(s, unix.SIOCSIFFLAGS, req); err != nil {
		t.Fatal(err)
	}
}

// offBench is a daemon with its plug, and the program where every user may run
// it.
type offBench struct {
	folder               string // as the table names it
	exe, conf, data, run string
	plug                 *plugKeeper
	daemon               *exec.Cmd
	rows                 []string
}

func newOffBench(t *testing.T, folder string) *offBench {
	t.Helper()
	dir := filepath.Join("/run", "bench-"+folder)
	b := &offBench{folder: folder, exe: filepath.Join(dir, "leavend"), data: filepath.Join(dir, "data")}
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	program, err := os.ReadFile(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(b.exe, program, 0o755); err != nil {
		t.Fatal(err)
	}
	broker := startBroker(t)
	b.plug = newPlugKeeper(t, broker)
	file, _ := farConfig(t, broker, freeport.Address(t), freeport.Address(t))
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	b.conf = filepath.Join(dir, "leavend.toml")
	lines := strings.SplitN(string(text), "\n", 2)
	if folder != "other" {
		b.data, b.run = "/var/lib/leavend", "/run/leavend"
	}
	// The shortest pause, so that the table sees a mat that heats again.
	fast := strings.Replace(lines[1], "[mat]\n", "[mat]\nswitches_per_hour = 30\n", 1)
	configtest.WriteFile(t, b.conf, fmt.Sprintf("data_dir = %q\n%s", b.data, fast))
	for _, dir := range []string{b.data, b.run} {
		if dir == "" {
			continue
		}
		if err := os.Mkdir(dir, 0o750); err != nil {
			t.Fatal(err)
		}
		if err := os.Chown(dir, sameUser, sameUser); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(b.conf, 0o644); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.kill)
	return b
}

// row writes a row of the table, without what differs from run to run.
func (b *offBench) row(state string, args []string, who, code, plug string, began time.Time, said string) {
	took := ""
	if !began.IsZero() {
		took = fmt.Sprintf("%.1f s", time.Since(began).Seconds())
	}
	said = process.ReplaceAllString(strings.Join(strings.Fields(said), " "), "process N")
	said = strings.TrimPrefix(strings.TrimPrefix(said, "leavend: "), "mat off: ")
	folder := b.folder
	if len(args) > 0 {
		folder += ", `" + args[0] + "`"
	}
	b.rows = append(b.rows, "| "+strings.Join([]string{state, folder, who, code, plug, took, said}, " | ")+" |")
}

var process = regexp.MustCompile(`process \d+`)

// newOwnBrokerBench is a bench whose plug is on the broker inside leavend, which
// ends with the daemon.
func newOwnBrokerBench(t *testing.T) *offBench {
	t.Helper()
	b := newOffBench(t, "own-broker")
	b.folder = "usual own broker"
	text, err := os.ReadFile(b.conf)
	if err != nil {
		t.Fatal(err)
	}
	address := freeport.Address(t)
	own := regexp.MustCompile(`(?m)^url = "mqtt://.*$`).ReplaceAllString(string(text), fmt.Sprintf("listen = %q\ndiscovery = false", address))
	if err := os.WriteFile(b.conf, []byte(own), 0o644); err != nil {
		t.Fatal(err)
	}
	b.start(t)
	b.plug = newPlugKeeper(t, address)
	return b
}

// playOwnBroker plays what only the daemon can ask the plug: without it, mat off
// cannot know, and says so, unless somebody starts it again, as systemd does.
func (b *offBench) playOwnBroker(t *testing.T) {
	b.allow(t)
	leavendtest.Eventually(t, "it heats", b.plug.isOn)
	b.off(t, "alive, heating", sameUser, true)

	again := make(chan struct{})
	stopped := b.daemon
	go func() {
		defer close(again)
		_ = stopped.Wait() // it was killed
		time.Sleep(time.Second)
		b.start(t)
	}()
	_ = b.daemon.Process.Signal(syscall.SIGSTOP)
	b.force(true)
	b.off(t, "stopped, and started again by another", sameUser, true)
	<-again
	b.stays(t, "after that", pastThePause)

	_ = b.daemon.Process.Signal(syscall.SIGSTOP)
	b.force(true)
	b.off(t, "stopped, and not started again", sameUser, false)
	b.kill()
	b.off(t, "dead", 0, false)
	b.force(true)
	b.start(t)
	leavendtest.Eventually(t, "the daemon that is started again switches the plug off", func() bool { return !b.plug.isOn() })
	b.stays(t, "the daemon started again", pastThePause)
}

// as returns the program as a user runs it.
func (b *offBench) as(user int, args ...string) *exec.Cmd {
	cmd := exec.Command(b.exe, args...)
	cmd.Env = append(os.Environ(), actAsProgram+"=1", "HOME=/")
	cmd.Dir = "/"
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(user), Gid: uint32(user)}}
	return cmd
}

// start starts the daemon, as systemd would in the usual folders.
func (b *offBench) start(t *testing.T) {
	t.Helper()
	b.daemon = b.as(sameUser, "run", "--config", b.conf)
	if b.run != "" {
		b.daemon.Env = append(b.daemon.Env, "RUNTIME_DIRECTORY="+b.run)
	}
	leavendtest.Start(t, b.daemon)
	leavendtest.Eventually(t, "the daemon answers", func() bool {
		return askDaemon(t.Context(), filepath.Join(b.at(), daemon.LocalName), "GET", daemon.MatPath, time.Second, nil) == nil
	})
}

// at is the folder of note and socket.
func (b *offBench) at() string {
	if b.run != "" {
		return b.run
	}
	return b.data
}

// kill ends the daemon as a power cut would, and waits for its end.
func (b *offBench) kill() {
	if b.daemon == nil || b.daemon.ProcessState != nil {
		return
	}
	_ = b.daemon.Process.Kill() // mat off may have done so
	_ = b.daemon.Wait()
}

// force has the plug be on, however that came.
func (b *offBench) force(on bool) {
	b.plug.mu.Lock()
	defer b.plug.mu.Unlock()
	b.plug.on, b.plug.until = on, time.Now().Add(time.Hour)
}

// off runs `leavend mat off`, and holds it to the plug.
func (b *offBench) off(t *testing.T, state string, user int, want bool, args ...string) {
	t.Helper()
	began := time.Now()
	out, err := b.as(user, append([]string{"mat", "off"}, args...)...).CombinedOutput()
	said := strings.TrimSpace(string(out))
	code := 0
	if exit, ok := err.(*exec.ExitError); ok {
		code = exit.ExitCode()
	} else if err != nil {
		t.Fatal(err)
	}
	on := b.plug.isOn()
	who := map[int]string{0: "root", sameUser: "same", otherUser: "other"}[user]
	b.row(state, args, who, fmt.Sprint(code), map[bool]string{true: "on", false: "off"}[on], began, said)
	if code == 0 && on || (code == 0) != want || code > 1 {
		t.Errorf("%s, %s: exit %d with the plug on %v: %s", state, who, code, on, said)
	}
	if code != 0 && !strings.Contains(strings.ToLower(said), "pull the mat's plug") {
		t.Errorf("%s, %s: it does not say what is sure: %s", state, who, said)
	}
}

// stays holds the plug off for longer than anything but the word of a person
// keeps it so.
func (b *offBench) stays(t *testing.T, when string, span time.Duration) {
	t.Helper()
	for end := time.Now().Add(span); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		if b.plug.isOn() {
			t.Errorf("%s: it heats again", when)
			return
		}
	}
	b.row(when, nil, "", "", "off for "+span.String(), time.Time{}, "")
}

// allow lets the daemon's mat heat.
func (b *offBench) allow(t *testing.T) {
	t.Helper()
	if out, err := b.as(0, "mat", "allow", "--yes", "--config", b.conf).CombinedOutput(); err != nil {
		t.Fatalf("mat allow: %v: %s", err, out)
	}
}

// playAlive plays a daemon that answers.
func (b *offBench) playAlive(t *testing.T) {
	b.start(t)
	b.allow(t)
	leavendtest.Eventually(t, "it heats", b.plug.isOn)
	b.off(t, "alive, heating", otherUser, false)
	if !b.plug.isOn() {
		t.Error("the row above says nothing: the plug was off by itself")
	}
	b.off(t, "alive, heating", sameUser, true)
	b.off(t, "alive, off already", 0, true)
	alive := pastThePause
	if long() {
		alive = 2*time.Minute + 15*time.Second
	}
	b.stays(t, "after mat off, the daemon alive", alive)
}

// pastThePause is longer than the pause after which a mat that may heat does so.
const pastThePause = 40 * time.Second

// playStopped plays a daemon that was allowed to heat and is stopped, dead, or was
// never there.
func (b *offBench) playStopped(t *testing.T) {
	b.start(t)
	b.allow(t)
	stopped := func(user int, want bool) {
		t.Helper()
		if b.daemon.ProcessState == nil {
			_ = b.daemon.Process.Signal(syscall.SIGSTOP)
		}
		b.force(true)
		b.off(t, "stopped (SIGSTOP)", user, want)
	}
	stopped(otherUser, false)
	b.hangs(t)
	stopped(sameUser, true)
	b.kill()
	b.start(t)
	b.stays(t, "the daemon started again after mat off had ended it", pastThePause)
	stopped(0, true)
	b.kill()

	for _, user := range []int{sameUser, 0, otherUser} {
		b.force(true)
		// In another folder nothing is left that leads there.
		var where []string
		if b.run == "" {
			b.off(t, "dead", user, false)
			where = []string{"--config", b.conf}
		}
		b.off(t, "dead", user, user != otherUser, where...)
	}
	b.mends(t)
	for _, dir := range []string{b.data, b.at()} {
		_ = os.Remove(filepath.Join(dir, heating.NoteName))
	}
	_ = os.Remove(filepath.Join(b.at(), daemon.LocalName))
	b.force(true)
	b.off(t, "none, no note", sameUser, false)
	configtest.WriteFile(t, filepath.Join(b.at(), heating.NoteName), `{"version":2,"pid":999999999,"none":true}`)
	b.off(t, "dead, and it had no mat", 0, false)
	if err := os.Remove(filepath.Join(b.at(), heating.NoteName)); err != nil {
		t.Fatal(err)
	}
	b.off(t, "none, no note", 0, false)
	b.off(t, "none, no note, --config", 0, true, "--config", b.conf)
}

// hangs has `leavend mat acknowledge` meet a daemon that is stopped.
func (b *offBench) hangs(t *testing.T) {
	t.Helper()
	began := time.Now()
	out, err := b.as(sameUser, "mat", "acknowledge", "--config", b.conf).CombinedOutput()
	said := strings.TrimSpace(string(out))
	if exit, ok := err.(*exec.ExitError); !ok || exit.ExitCode() != 1 || !strings.Contains(said, "nothing was acknowledged") {
		t.Errorf("mat acknowledge against a stopped daemon: %v, %s", err, said)
	}
	b.row("stopped, `mat acknowledge`", nil, "same", "1", "on", began, said)
}

// mends plays what may be wrong with a note and a plug.
func (b *offBench) mends(t *testing.T) {
	note := filepath.Join(b.at(), heating.NoteName)
	was, err := os.ReadFile(note)
	if err != nil {
		t.Fatal(err)
	}
	configtest.WriteFile(t, note, strings.Replace(string(was), `"version":2`, `"version":3`, 1))
	b.force(true)
	b.off(t, "dead, the note of another version", 0, false, "--state", note)
	configtest.WriteFile(t, note, string(was))
	b.plug.client.Disconnect(0)
	b.off(t, "dead, the plug away", 0, false, "--state", note)
	if token := b.plug.client.Connect(); !token.WaitTimeout(leavendtest.Patience) || token.Error() != nil {
		t.Fatal(token.Error())
	}
}
