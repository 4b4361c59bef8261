package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version and commit are set by the release build with
// -ldflags "-X main.version=1.2.3 -X main.commit=0123456789ab".
var version, commit = "dev", ""

func newVersionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version and what it was built with",
		Args:  takes(0, 0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "leavend %s (%s, %s/%s, %s)\n",
				version, revision(), runtime.GOOS, runtime.GOARCH, runtime.Version())
			return err
		},
	}
}

// revision returns the commit the binary was built from, or "no revision"
// when the build did not record one.
func revision() string {
	if commit != "" {
		return commit
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
