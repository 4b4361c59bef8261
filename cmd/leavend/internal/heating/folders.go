package heating

// UsualFolders are where the package's daemon, and one that was started by
// hand as root, leave note and socket.
func UsualFolders() []string { return []string{"/run/leavend", "/var/lib/leavend"} }
