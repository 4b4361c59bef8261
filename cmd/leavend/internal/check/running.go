package check

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"leavend/cmd/leavend/internal/config"
)

// RunningOn finds a leavend daemon that uses a bus, a line or a plug that the
// configuration names too: to use it behind its back would disturb both. One whose
// configuration cannot be read may use any.
func (b Board) RunningOn(c *config.Config) (pid string, ok bool) {
	ours := partsOf(c)
	return b.runs(func(pid string, args []string) bool {
		file, known := b.configOf(pid, args)
		theirs, err := config.Load(file)
		return !known || err != nil || slices.ContainsFunc(partsOf(theirs), func(p string) bool { return slices.Contains(ours, p) })
	})
}

// RunningWith finds the daemon that runs with one config file.
func (b Board) RunningWith(file string) (pid string, ok bool) {
	file = real(file, "")
	return b.runs(func(pid string, args []string) bool {
		theirs, known := b.configOf(pid, args)
		return !known || theirs == file || sameFile(theirs, file)
	})
}

// partsOf names the parts of a board that a configuration uses.
func partsOf(c *config.Config) (parts []string) {
	for _, l := range linesOf(c) {
		parts = append(parts, fmt.Sprintf("line %d of %s", l.Number, l.chip))
	}
	for _, s := range c.Sensors {
		switch {
		case s.OnI2C():
			parts = append(parts, onBus(s.Bus))
		case s.Chip == config.DS18B20:
			parts = append(parts, "1-wire")
		case s.Device != "":
			parts = append(parts, s.Device)
		}
	}
	if c.Mat.Output == config.Plug {
		parts = append(parts, "plug "+cmp.Or(c.Mat.Plug.Topic, c.Mat.Plug.CommandTopic))
	}
	return parts
}

// runs finds a daemon that fits.
func (b Board) runs(fits func(pid string, args []string) bool) (pid string, ok bool) {
	for _, p := range b.glob("/proc/[0-9]*/cmdline") {
		args := strings.Split(b.read(p), "\x00")
		pid := strings.Split(p, "/")[2]
		if len(args) > 1 && strings.HasSuffix("/"+args[0], "/leavend") && args[1] == "run" && fits(pid, args[2:]) {
			return pid, true
		}
	}
	return "", false
}

// configOf is the config file of a daemon; false where only its user knows.
func (b Board) configOf(pid string, args []string) (file string, known bool) {
	dir, err := os.Readlink(b.path("/proc/" + pid + "/cwd"))
	file = named(args)
	if err != nil && !filepath.IsAbs(file) {
		return "", false
	}
	file = real(file, dir)
	if inside := b.path("/proc/" + pid + "/root" + file); exists(inside) { // what a container calls by that name
		return inside, true
	}
	return file, true
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

// sameFile reports whether two paths lead to one file.
func sameFile(a, b string) bool {
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	other, err := os.Stat(b)
	return err == nil && os.SameFile(one, other)
}

// named is the config file that the arguments of a daemon name.
func named(args []string) string {
	for i, a := range args {
		for _, flag := range []string{"--config", "-c"} {
			if value, ok := strings.CutPrefix(a, flag+"="); ok {
				return value
			}
			if a == flag && i+1 < len(args) {
				return args[i+1]
			}
		}
	}
	return config.DefaultFile
}

// real is a path without links, seen from a folder.
func real(path, dir string) string {
	if !filepath.IsAbs(path) && dir != "" {
		path = filepath.Join(dir, path)
	}
	if p, err := filepath.Abs(path); err == nil {
		path = p
	}
	if p, err := filepath.EvalSymlinks(path); err == nil {
		path = p
	}
	return path
}
