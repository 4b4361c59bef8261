package check

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// Clock checks that the time of day can be trusted: every feed and every
// message carries it.
func (b Board) Clock() Result {
	const topic = "clock"
	const chip = "a board without a clock chip starts behind after a power cut and is right once the network is there"
	switch {
	case b.has("/run/systemd/timesync/synchronized"):
		return Result{Topic: topic, Level: Pass, Says: "set by the network."}
	case b.Now.Year() < 2024:
		return Result{Topic: topic, Level: Fail, Says: fmt.Sprintf("it says %s, which is long past.", b.Now.Format("2006-01-02")),
			Do: "set it from the network: sudo timedatectl set-ntp true"}
	}
	ok, err := b.Synced()
	switch {
	case err != nil:
		return Result{Topic: topic, Level: Note, Says: fmt.Sprintf("it says %s; whether the network sets it cannot be told here.", b.Now.Format("2006-01-02 15:04"))}
	case ok:
		return Result{Topic: topic, Level: Pass, Says: "set by the network."}
	}
	return Result{Topic: topic, Level: Warn, Says: fmt.Sprintf("it says %s, but nothing sets it; %s.", b.Now.Format("2006-01-02 15:04"), chip),
		Do: "sudo timedatectl set-ntp true, and see: timedatectl status"}
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
		return Result{Topic: topic, Level: Warn, Says: fmt.Sprintf("the room left in %s cannot be told: %v.", there, reason(err))}
	}
	says := fmt.Sprintf("%s has %s free; readings will take about %s.", dir, size(left), size(need))
	switch {
	case left < spaceFail:
		return Result{Topic: topic, Level: Fail, Says: says, Do: "make room, or set data_dir to a folder that has some: df -h " + there}
	case left < spaceWarn || left < need+spaceFail:
		return Result{Topic: topic, Level: Warn, Says: says, Do: "make room, or keep readings at full rate for fewer days: store.full_rate_days"}
	case there != dir:
		return Result{Topic: topic, Level: Note, Says: fmt.Sprintf("%s is not there yet; the service makes it at its first start. %s has %s free; readings will take about %s.", dir, there, size(left), size(need))}
	}
	if err := b.writable(dir); err != nil {
		return Result{Topic: topic, Level: Fail, Says: fmt.Sprintf("the user %s cannot write in %s: %v.", b.User, dir, reason(err)),
			Do: "run the check as the service's user: sudo -u leavend leavend check; or give the folder to it: sudo chown -R leavend: " + dir}
	}
	return Result{Topic: topic, Level: Pass, Says: says}
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

// size returns a size in decimal units, as disks are sold.
func size(n uint64) string {
	units := []string{"B", "kB", "MB", "GB", "TB"}
	v, i := float64(n), 0
	for v >= 1000 && i < len(units)-1 {
		v, i = v/1000, i+1
	}
	if v < 10 && i > 0 {
		return fmt.Sprintf("%.1f %s", v, units[i])
	}
	return fmt.Sprintf("%.0f %s", v, units[i])
}

// SecretFile checks that a secret's file can be read, and by no other user.
func (b Board) SecretFile(topic, file string) Result {
	info, err := os.Stat(file)
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("it is no file")
	}
	if err == nil {
		err = tryOpen(file, os.O_RDONLY)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return Result{Topic: topic, Level: Fail, Says: file + " is not there.",
			Do: "write the secret into it: sudo install -m 640 -g leavend /dev/stdin " + file + ", type it, then Ctrl-D"}
	case err != nil:
		return Result{Topic: topic, Level: Fail, Says: fmt.Sprintf("the user %s cannot read %s: %v.", b.User, file, reason(err)),
			Do: "sudo chgrp leavend " + file + " && sudo chmod 640 " + file}
	case info.Mode().Perm()&0o004 != 0:
		return Result{Topic: topic, Level: Warn, Says: "everybody on this board can read " + file + ".",
			Do: "sudo chgrp leavend " + file + " && sudo chmod 640 " + file}
	case info.Size() == 0:
		return Result{Topic: topic, Level: Fail, Says: file + " is empty.", Do: "write the secret into it"}
	}
	return Result{Topic: topic, Level: Pass, Says: file + " can be read."}
}

// Port checks that an address can be listened on. While the daemon runs it is
// taken.
func (b Board) Port(topic, key, address string, running bool) Result {
	r := b.port(topic, key, address, running)
	if r.Level == Fail {
		r.Without = partOf(topic)
	}
	return r
}

// partOf is what is missing while something of a topic is to be repaired.
func partOf(topic string) string {
	return map[string]string{"page": "the page", "metrics": "the metrics", "mqtt": "the MQTT broker"}[topic]
}

func (b Board) port(topic, key, address string, running bool) Result {
	err := b.Listen(address)
	switch {
	case err == nil:
		return Result{Topic: topic, Level: Pass, Says: address + " is free to listen on."}
	case errors.Is(err, syscall.EADDRINUSE) && running:
		return Result{Topic: topic, Level: Note, Says: address + " is in use; leavend is running, so that is most likely leavend."}
	case errors.Is(err, syscall.EADDRINUSE):
		return Result{Topic: topic, Level: Fail, Says: "another program listens on " + address + ".",
			Do: "see who it is: sudo ss -ltnp 'sport = :" + address[strings.LastIndex(address, ":")+1:] + "'; or set " + key + " to another port"}
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return Result{Topic: topic, Level: Fail, Says: address + " is no address of this board.", Do: "set " + key + " to one of: ip -brief address"}
	case errors.Is(err, syscall.EACCES):
		return Result{Topic: topic, Level: Fail, Says: "ports below 1024 are for the system: " + address + ".", Do: "set " + key + " to a port from 1024 up"}
	}
	return Result{Topic: topic, Level: Fail, Says: fmt.Sprintf("cannot listen on %s: %v.", address, err), Do: "set " + key + " to another address"}
}

// Watchdog checks whether the board restarts itself when its kernel hangs,
// which nothing in leavend could notice.
func (b Board) Watchdog() Result {
	const topic = "watchdog"
	if len(b.glob("/dev/watchdog*")) == 0 {
		return Result{Topic: topic, Level: Warn, Says: "the board has no hardware watchdog: if its kernel hangs with the mat on, only the mat's own cut-out and the driver's lease end the heat.",
			Do: "use a plug with its own off timer, or a driver with a one-shot; on a Raspberry Pi: echo dtparam=watchdog=on | sudo tee -a /boot/firmware/config.txt"}
	}
	files := append(b.glob("/etc/systemd/system.conf.d/*.conf"), b.glob("/usr/lib/systemd/system.conf.d/*.conf")...)
	for _, f := range append(files, "/etc/systemd/system.conf") {
		for _, line := range strings.Split(b.read(f), "\n") {
			key, value, ok := strings.Cut(strings.ReplaceAll(line, " ", ""), "=")
			if ok && key == "RuntimeWatchdogSec" && value != "0" && value != "off" && value != "" {
				return Result{Topic: topic, Level: Pass, Says: fmt.Sprintf("the board restarts if its kernel hangs for %s (%s).", value, f)}
			}
		}
	}
	return Result{Topic: topic, Level: Warn, Says: "the board has a hardware watchdog, but systemd does not feed it: if the kernel hangs with the mat on, nothing restarts the board.",
		Do: "sudo mkdir -p /etc/systemd/system.conf.d && printf '[Manager]\\nRuntimeWatchdogSec=14s\\n' | sudo tee /etc/systemd/system.conf.d/leavend-watchdog.conf && sudo systemctl daemon-reexec"}
}

// AsRoot warns of running with more rights than are needed.
func (b Board) AsRoot() (Result, bool) {
	if b.UID != 0 {
		return Result{}, false
	}
	return Result{Topic: "user", Level: Note, Says: "this check runs as root, who may do anything; the service runs as the user leavend, who may not.",
		Do: "sudo -u leavend leavend check shows what the service will find"}, true
}
