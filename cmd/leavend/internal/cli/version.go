package cli

import (
	"fmt"
	"runtime"

	"leavend/cmd/leavend/internal/version"

	"github.com/spf13/cobra"
)

func newVersionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version and what it was built with",
		Args:  takes(0, 0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "leavend %s (%s, %s/%s, %s)\n",
				version.Version, version.Revision(), runtime.GOOS, runtime.GOARCH, runtime.Version())
			return err
		},
	}
}
