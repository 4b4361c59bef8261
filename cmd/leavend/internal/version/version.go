// Package version says which version of the program this is.
package version

import "runtime/debug"

// Version and Commit are set by the release build with
// -ldflags "-X leavend/cmd/leavend/internal/version.Version=1.2.3".
var Version, Commit = "dev", ""

// Revision returns the commit the binary was built from, or "no revision"
// when the build did not record one.
func Revision() string {
	if Commit != "" {
		return Commit
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "no revision"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return "no revision"
}
