package check

import (
	"os"
	"path/filepath"
	"strings"

	"leavend/cmd/leavend/internal/config"
)

// Running finds a leavend daemon that is running on the board: reading its
// sensors behind its back would disturb both.
func (b Board) Running() (pid string, ok bool) {
	return b.runs(func(string, []string) bool { return true })
}

// RunningWith finds the daemon that runs with one config file.
func (b Board) RunningWith(file string) (pid string, ok bool) {
	file = real(file, "")
	return b.runs(func(pid string, args []string) bool {
		dir, err := os.Readlink(b.path("/proc/" + pid + "/cwd"))
		theirs := configOf(args)
		if err != nil && !filepath.IsAbs(theirs) {
			return true // of another user, who alone knows
		}
		return real(theirs, dir) == file
	})
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

// configOf is the config file that the arguments of a daemon name.
func configOf(args []string) string {
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
