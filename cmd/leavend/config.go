package main

import (
	"fmt"

	"leavend/cmd/leavend/internal/config"

	"github.com/spf13/cobra"
)

func newConfigCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "config",
		Short: "Print the whole configuration with comments, every key at its default",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(cmd.OutOrStdout(), config.Reference())
			return err
		},
	}
}
