package config

import (
	"io/fs"
	"os"
	"os/user"
	"runtime"
	"strconv"
	"syscall"

	"golang.org/x/sys/unix"
)

// overflowUID is the kernel's account without rights (user_namespaces(7)), where the
// service has none.
const overflowUID = 65534

func ownersOf(info fs.FileInfo) (uid, gid int, ok bool) {
	s, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, 0, false
	}
	return int(s.Uid), int(s.Gid), true
}

// serviceUID is the account that the packages run the daemon as.
func serviceUID() int {
	if u, err := user.Lookup("leavend"); err == nil {
		if uid, err := strconv.Atoi(u.Uid); err == nil {
			return uid
		}
	}
	return overflowUID
}

// openAs opens a file as another account. The kernel checks files by an identity
// that each thread has of its own (setfsuid(2)); the thread ends with the
// goroutine, which never lets go of it.
func openAs(name string, a account) (f *os.File, err error) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread()
		if err = unix.Setgroups([]int{a.gid}); err != nil {
			return
		}
		if err = unix.Setfsgid(a.gid); err != nil {
			return
		}
		if err = unix.Setfsuid(a.uid); err != nil {
			return
		}
		f, err = os.Open(name)
	}()
	<-done
	return f, err
}
