package cli

import (
	"fmt"
	"io"
	"os"
	"syscall"
)

// isJournal reports whether w is the stream that systemd has connected to the
// journal: JOURNAL_STREAM, see systemd.exec(5), holds its device and inode.
func isJournal(w io.Writer, stream string) bool {
	f, ok := w.(*os.File)
	if !ok || stream == "" {
		return false
	}
	var s syscall.Stat_t
	if err := syscall.Fstat(int(f.Fd()), &s); err != nil {
		return false
	}
	return stream == fmt.Sprintf("%d:%d", s.Dev, s.Ino)
}
